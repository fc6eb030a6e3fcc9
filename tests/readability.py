"""How hard is a text to read? Published formulas, in English and in Spanish.

English: Flesch–Kincaid grade level (Kincaid, Fishburne, Rogers and Chissom, "Derivation of New Readability
Formulas … for Navy Enlisted Personnel", Research Branch Report 8-75, Naval Air Station Memphis, 1975):

    0.39 × words / sentences + 11.8 × syllables / words − 15.59

Spanish: Szigriszt's perspicuity (F. Szigriszt Pazos, "Sistemas predictivos de legibilidad del mensaje
escrito: fórmula de perspicuidad", Universidad Complutense de Madrid, 1993), read on the INFLESZ scale
(Barrio-Cantalejo and others, Anales del Sistema Sanitario de Navarra 31(2), 2008), where 65 to 80 is
"bastante fácil"; formula and scale are from memory:

    206.835 − 62.3 × syllables / words − words / sentences
"""

import re

SIXTH_GRADE = 6.0
QUITE_EASY = 65.0
WORD = r"[A-Za-zÁÉÍÓÚÜÑáéíóúüñ][A-Za-zÁÉÍÓÚÜÑáéíóúüñ’'-]*|\d+"


def sentences_of(text: str) -> list[list[str]]:
    """Words of every sentence; a line that has no full stop ends where it ends."""
    found = [re.findall(WORD, part) for part in re.split(r"[.!?:;]+(?:\s|$)|\n", text)]
    return [words for words in found if words]


SPOKEN_ENDS = ("ted", "ded", "ses", "ces", "ches", "shes", "ges")


def syllables(word: str) -> int:
    """Groups of vowels, a silent e at the end not counted: the usual count by machine."""
    word = re.sub(r"[^a-z]", "", word.lower())
    if len(word) <= 3:
        return 1
    count = len(re.findall(r"[aeiouy]+", word))
    ends_silent = word.endswith(("es", "ed")) and not word.endswith(SPOKEN_ENDS)
    ends_in_e = word.endswith("e") and not word.endswith("le")
    if ends_silent or ends_in_e:
        count -= 1
    return max(count, 1)


def grade(sentences: list[list[str]]) -> float:
    words = [word for sentence in sentences for word in sentence]
    spoken = sum(syllables(word) for word in words)
    return 0.39 * len(words) / len(sentences) + 11.8 * spoken / len(words) - 15.59


WEAK = "iuü"


def spanish_syllables(word: str) -> int:
    """One for each vowel that does not glide into another beside it; an accent on i or u parts them."""
    word = re.sub(r"[^a-záéíóúüñ]", "", word.lower())
    word = re.sub(r"qu(?=[eiéí])|gu(?=[eiéí])", "q", word)
    if word.endswith("y"):
        word = word[:-1] + "i"
    count, before = 0, ""
    for letter in word:
        if letter in "aeoáéóíúiuü":
            glides = before and (letter in WEAK or before in WEAK) and not (letter in "íú" or before in "íú")
            count += not glides
            before = letter
        elif letter != "h":
            before = ""
    return max(count, 1)


def perspicuity(sentences: list[list[str]]) -> float:
    words = [word for sentence in sentences for word in sentence]
    spoken = sum(spanish_syllables(word) for word in words)
    return 206.835 - 62.3 * spoken / len(words) - len(words) / len(sentences)
