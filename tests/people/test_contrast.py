"""Can the colours be read? Contrast by the formula of WCAG 2.2 ("relative luminance", "contrast ratio").

The formula is written down here from the recommendation, from memory; its anchors are the widely published
21:1 of black on white and 4.54:1 of #767676 on white. 6:1 for text is our own rule, stricter than the 4.5:1
of level AA; axe checks the finished pages independently.
"""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).parents[2] / "bandroom" / "static" / "bandroom" / "css"
COLOUR = re.compile(r"--([a-z-]+): (#[0-9a-f]{3,6});")
TOKENS = dict(COLOUR.findall((CSS / "tokens.css").read_text()))
STRONG = TOKENS | dict(COLOUR.findall((CSS / "strong.css").read_text()))

TEXT_PAIRS = [
    ("ink", "paper"), ("ink", "felt"), ("ink", "mist"), ("ink", "brass"), ("ink", "brass-lit"),
    ("ink", "brass-pale"), ("ink", "rust-pale"), ("soft", "paper"), ("soft", "felt"), ("plush", "paper"),
    ("plush", "felt"), ("paper", "plush"), ("paper", "deep"), ("mist", "deep"), ("mist", "plush"),
    ("brass", "deep"), ("steel", "paper"), ("steel", "felt"),
    ("rust", "paper"), ("rust", "felt"), ("rust", "rust-pale"),
]  # fmt: skip
# Edges of fields and drawn signs, and the focus ring: WCAG 1.4.11 asks 3:1.
EDGE_PAIRS = [
    ("edge", "paper"),
    ("edge", "felt"),
    ("steel", "paper"),
    ("steel", "felt"),
    ("brass", "deep"),
    ("brass", "plush"),
]


def luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    if len(digits) == 3:
        digits = "".join(d * 2 for d in digits)
    channels = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_known_ratios() -> None:
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize(("text", "ground"), TEXT_PAIRS)
def test_text_is_six_to_one_or_better(text: str, ground: str) -> None:
    assert contrast(TOKENS[text], TOKENS[ground]) >= 6


@pytest.mark.parametrize(("edge", "ground"), EDGE_PAIRS)
def test_edges_are_three_to_one_or_better(edge: str, ground: str) -> None:
    assert contrast(TOKENS[edge], TOKENS[ground]) >= 3


def test_colours_are_named_in_tokens_alone() -> None:
    elsewhere = {
        sheet.name: re.findall(r"(?<!url\()#[0-9a-f]{3,8}\b(?=[;\s])", sheet.read_text())
        for sheet in CSS.glob("*.css")
        if sheet.name not in {"tokens.css", "strong.css"}
    }
    assert {name: found for name, found in elsewhere.items() if found} == {}


def test_the_stylesheets_are_light() -> None:
    assert sum(sheet.stat().st_size for sheet in CSS.glob("*.css")) <= 60_000


@pytest.mark.parametrize(("one", "ground"), [*TEXT_PAIRS, *EDGE_PAIRS])
def test_strong_contrast_is_ten_to_one_or_better(one: str, ground: str) -> None:
    assert contrast(STRONG[one], STRONG[ground]) >= 10
