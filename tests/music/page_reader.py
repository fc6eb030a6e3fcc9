"""Reads an engraved line as a player does: glyphs and staff positions only, then the rules of reading.

It sees nothing of the engine: it takes the finished SVG, finds clef, key signature, signs, heads and ties,
and says which MIDI note each head means. Glyph codes are those of SMuFL (Standard Music Font Layout, W3C).
"""

import re

from lxml import etree

SVG = "{http://www.w3.org/2000/svg}"
SIGNS = {"E262": 1, "E260": -1, "E261": 0, "E263": 2, "E264": -2}
CLEFS = {"E050": ("G", 4), "E062": ("F", 3)}  # the clef's glyph sits on the line of this note
LETTERS = "CDEFGAB"
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def translation(element):
    return tuple(
        map(float, re.search(r"translate\(([-\d.]+)[, ]+([-\d.]+)\)", element.get("transform")).groups())
    )


def glyphs(group):
    """(code, y) of every glyph in a group."""
    return [(use.get("href")[-4:], translation(use)[1]) for use in group.iter(f"{SVG}use")]


def groups(element, kind):
    return [g for g in element.iter(f"{SVG}g") if (g.get("class") or "").split(" ")[0] == kind]


class Staff:
    """Five lines: turns a y into a letter and an octave, once a clef is known."""

    def __init__(self, measure):
        staff = groups(measure, "staff")[0]
        lines = sorted(
            float(re.search(r"L[-\d.]+ ([-\d.]+)", path.get("d"))[1])
            for path in staff.findall(f"{SVG}path")[:5]
        )
        self.half_space = (lines[4] - lines[0]) / 8

    def place(self, y, clef):
        letter, octave, clef_y = clef
        steps = LETTERS.index(letter) + 7 * octave + round((clef_y - y) / self.half_space)
        return LETTERS[steps % 7], steps // 7


def ties(system_groups):
    """Number of ties that leave each head cannot be seen from ids: match arcs to heads by x."""
    return [
        [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", path.get("d"))]
        for system in system_groups
        for tie in groups(system, "tie")
        for path in tie.iter(f"{SVG}path")
    ]


def read_midi(svg):
    """MIDI numbers of the heads in page order, rests left out, tied continuations included."""
    root = etree.fromstring(svg.encode())
    sounds = []
    clef = key = None
    held = None  # alteration that comes in by a tie from the note before
    for system in groups(root, "system"):
        arcs = ties([system])
        for measure in groups(system, "measure"):
            staff, in_bar = Staff(measure), {}
            for group in measure.iter(f"{SVG}g"):
                kind = (group.get("class") or "").split(" ")[0]
                if kind == "clef":
                    code, y = glyphs(group)[0]
                    clef = (*CLEFS[code], y)
                    key = {}
                elif kind == "keySig":
                    key = {
                        staff.place(y, clef)[0]: SIGNS[code] for code, y in glyphs(group) if SIGNS[code] != 0
                    }
                elif kind in ("rest", "mRest"):
                    held = None
                elif kind == "note":
                    head = groups(group, "notehead")[0]
                    x, y = translation(next(head.iter(f"{SVG}use")))
                    letter, octave = staff.place(y, clef)
                    printed = [
                        SIGNS[code]
                        for accid in groups(group, "accid")
                        for code, _ in glyphs(accid)
                        if code in SIGNS
                    ]
                    if printed:
                        in_bar[letter, octave] = alter = printed[0]
                    elif held is not None and held[:2] == (letter, octave):
                        alter = held[2]
                    else:
                        alter = in_bar.get((letter, octave), key.get(letter, 0))
                    sounds.append(12 * (octave + 1) + SEMITONES[letter] + alter)
                    leaves = any(x + 100 < arc[0] < x + 400 and abs(arc[1] - y) < 200 for arc in arcs)
                    held = (letter, octave, alter) if leaves else None
    return sounds
