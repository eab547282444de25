"""The nearest known word to a misspelt one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches

# Letters that are compared: longer than any name, short enough that a pasted page costs no time.
LONGEST_WORD = 60
# Known words in one message: some lines of a terminal.
MOST_WORDS = 16
# Known words that are compared with one: a hundred faults of a file cost half a second then, however long it is.
MOST_COMPARED = 64
# difflib's own default: one word in five letters wrong is still found, `lane` is not offered for `speed`.
ALIKE_ENOUGH_RATIO = 0.6


# What people of the trade call what a file calls otherwise; the first word that is known at the place is meant.
SYNONYMS: Mapping[str, tuple[str, ...]] = {
    "ttc": ("time to collision",),
    "time_to_collision": ("time to collision",),
    "thw": ("time gap",),
    "headway": ("time gap",),
    "decelerate": ("brake",),
    "deceleration": ("brake",),
    "decel": ("brake",),
    "braking": ("brake",),
    "velocity": ("speed", "to"),
    "v": ("speed", "to"),
    "duration": ("lasting", "for"),
    "position": ("station", "at"),
    "x": ("station",),
    "offset": ("beside", "from"),
    "delay": ("latency",),
    "person": ("pedestrian",),
    "walker": ("pedestrian",),
    "adult": ("pedestrian",),
    "child": ("pedestrian",),
    "car": ("vehicle",),
    "target": ("vehicle",),
    "truck": ("vehicle",),
    "bike": ("bicycle",),
    "cyclist": ("bicycle",),
    "motorbike": ("motorcycle",),
    "collision": ("contact",),
    "impact": ("contact",),
    "phases": ("programme",),
    "program": ("programme",),
    "yaw": ("heading",),
    "angle": ("heading",),
}


def nearest_word(word: str, known: Iterable[str]) -> str | None:
    """Give the known word most like `word` or meant by it, or None when none is."""
    by_lower = {one.lower(): one for one in known}
    for meant in SYNONYMS.get(word.lower(), ()):
        if meant in by_lower and word.lower() not in by_lower:
            return by_lower[meant]
    begin = word[:LONGEST_WORD].lower()
    known_words = _likeliest(begin, list(by_lower))
    found = get_close_matches(begin, known_words, 1, ALIKE_ENOUGH_RATIO)
    return by_lower[found[0]] if found else None


def _likeliest(word: str, known: list[str]) -> list[str]:
    """Of many words those that begin most like `word`, in their order otherwise: comparing takes time."""
    if len(known) <= MOST_COMPARED:
        return known
    return sorted(known, key=lambda one: -_shared(word, one))[:MOST_COMPARED]


def _shared(word: str, other: str) -> int:
    """How many letters two words begin with alike."""
    pairs = enumerate(zip(word, other, strict=False))
    return next((at for at, (a, b) in pairs if a != b), min(len(word), len(other)))


def suggestion(word: str, known: Iterable[str]) -> str:
    """Give a sentence of advice: the nearest known word, else the list of them."""
    words = list(known)
    nearest = nearest_word(word, words)
    if nearest is not None:
        return f"Did you mean `{nearest}`?"
    if not words:
        return "There is none here."
    shown = ", ".join(f"`{one}`" for one in words[:MOST_WORDS])
    more = "" if len(words) <= MOST_WORDS else f" and {len(words) - MOST_WORDS} more"
    return f"Known here: {shown}{more}."
