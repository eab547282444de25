"""Colours can be read in light and dark, and never carry a meaning alone.

Contrast is that of WCAG 2.1, success criterion 1.4.3 (4.5 : 1 for text), formula from its definition
of relative luminance; from memory.
"""

import re
from itertools import combinations

import pytest

from choreo.page.markup import read

STYLE = read("page.css")
LIGHT, DARK = re.findall(r":root \{([^}]*)\}", STYLE)[:2]
TEXT = ("ink", "soft", "good", "bad", "doubt", "m0", "m1", "m2", "m3", "m4", "m5")


def _colours(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z0-9]+): (#[0-9a-f]{6})", block))


def _channels(colour: str) -> list[float]:
    values = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    return [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values]


def contrast(one: str, other: str) -> float:
    """Give the contrast of two colours, each as #rrggbb."""
    lights = sorted(
        sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), _channels(colour), strict=True))
        for colour in (one, other)
    )
    return (lights[1] + 0.05) / (lights[0] + 0.05)


@pytest.mark.parametrize("block", [LIGHT, DARK], ids=["light", "dark"])
def test_every_text_colour_stands_out_from_its_ground(block: str) -> None:
    colours = _colours(block)
    faint = [
        (text, ground)
        for text in TEXT
        for ground in ("paper", "sheet")
        if contrast(colours[text], colours[ground]) < 4.5
    ]
    assert faint == []


# Viénot, Brettel, Mollon 1999: linear light of a dichromat who lacks red (protan) or green (deutan) cones; matrices
# from memory, rows sum to one.
SEEN_BY = {
    "deutan": ((0.29275, 0.70725, 0.0), (0.29275, 0.70725, 0.0), (-0.02234, 0.02234, 1.0)),
    "protan": ((0.11238, 0.88762, 0.0), (0.11238, 0.88762, 0.0), (0.00401, -0.00401, 1.0)),
}


@pytest.mark.parametrize("block", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("eye", sorted(SEEN_BY))
def test_first_three_movers_differ_for_colour_blind_eyes(block: str, eye: str) -> None:
    colours = _colours(block)
    seen = [
        [
            sum(w * c for w, c in zip(row, _channels(colours[m]), strict=True))
            for row in SEEN_BY[eye]
        ]
        for m in ("m0", "m1", "m2")
    ]
    apart = [
        sum((a - b) ** 2 for a, b in zip(one, other, strict=True)) ** 0.5
        for one, other in combinations(seen, 2)
    ]
    assert min(apart) > 0.1


def test_every_hue_has_a_dash_of_its_own() -> None:
    (dashes,) = re.findall(r"const DASHES = (\[\[.*?\]\]);", read("script/1-motion.js"))
    patterns = re.findall(r"\[([\d, ]*)\]", dashes[1:-1])
    assert len(patterns) == len(set(patterns)) == 6
