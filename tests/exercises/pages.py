"""What the tests of pages share: a filled-in form and a quick look at an answer."""

from django.http import HttpResponse

LINE_A = "Bb3:2 C4 | D4 Bb3"
LINE_B = "Bb3 C4 D4 Bb3 | Bb3 C4 D4 Bb3"


def written(**changed: str) -> dict[str, str]:
    """The writing form as a browser sends it; names the test changes come last."""
    return {
        "title": "Stepping Up",
        "metre": "4/4",
        "fifths": "-2",
        "written_for": "concert",
        "source": "typed",
        "came_from": "",
        "player": "clarinet",
        "notes_A": LINE_A,
        "caption_A": "half notes",
        "tempo_A": "66",
        "notes_B": LINE_B,
        "caption_B": "quarters",
        "tempo_B": "80",
        "do": "save",
    } | changed


def text_of(answer: HttpResponse) -> str:
    return answer.content.decode()
