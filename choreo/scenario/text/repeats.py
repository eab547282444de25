"""Repeated entries of pieces and programmes, written out one after the other, their names counted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from choreo.scenario.text.document import Document, Keys
from choreo.words import Finding
from choreo.words.nearest import suggestion
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# A list longer than this, written out, was meant otherwise.
MOST_ENTRIES = 2000
# section, list, key of the repeated entries
LISTS = (("paths", "pieces", "pieces"), ("movers", "programme", "phases"))


@dataclass(frozen=True)
class _Entry:
    """One entry of a list, where it was written, and which pass of its repetition it is (0: of none)."""

    data: Any
    keys: Keys
    passing: int


def write_out(document: Document) -> None:
    """Put `- repeat: 3, pieces: [...]` three times into the list that it stands in; faults go to the document.

    A name is counted from its second time on: `lap`, `lap 2`. Places are those of what was written; passes tell which
    pass of its repetition an entry is.
    """
    for section, listed, inside in LISTS:
        for name in document.names(section):
            block = document.data[section][name]
            entries = block.get(listed) if isinstance(block, dict) else None
            if isinstance(entries, list) and any(_repeats(one) for one in entries):
                keys: Keys = (section, name, listed)
                block[listed] = _written_out(document, keys, entries, inside)


def counted(name: str, number: int) -> str:
    """Give a name as it is called the number-th time."""
    return name if number <= 1 else f"{name} {number}"


def _repeats(entry: Any) -> bool:
    return isinstance(entry, dict) and "repeat" in entry


def _written_out(document: Document, keys: Keys, entries: list[Any], inside: str) -> list[Any]:
    flat: list[_Entry] = []
    for one in _flat(document, keys, entries, inside, 0):
        if len(flat) == MOST_ENTRIES:
            what = f"written out, the list has more than {MOST_ENTRIES} entries"
            _fault(document, keys, what, "Repeat less often.")
            break
        flat.append(one)
    places, key_places = dict(document.places), dict(document.key_places)
    below = _by_entry(document, keys)
    names: Counter[str] = Counter()
    written: list[Any] = []
    for index, one in enumerate(flat):
        data = dict(one.data) if isinstance(one.data, dict) else one.data
        if one.passing and isinstance(data, dict) and isinstance(data.get("name"), str):
            names[data["name"]] += 1
            data["name"] = counted(data["name"], names[data["name"]])
        written.append(data)
        here = (*keys, index)
        document.passes[here] = one.passing
        for old in below.get(one.keys, ()):
            new = (*here, *old[len(one.keys) :])
            for known, into in ((places, document.places), (key_places, document.key_places)):
                if old in known:
                    into[new] = known[old]
    return written


def _by_entry(document: Document, keys: Keys) -> dict[Keys, list[Keys]]:
    """All places below a list, by the entries that they are of, at every depth."""
    below: dict[Keys, list[Keys]] = {}
    for place in (*document.places, *document.key_places):
        if place[: len(keys)] == keys:
            for depth in range(len(keys) + 1, len(place) + 1):
                below.setdefault(place[:depth], []).append(place)
    return below


def _flat(
    document: Document, keys: Keys, entries: list[Any], inside: str, passing: int
) -> Iterator[_Entry]:
    for index, entry in enumerate(entries):
        here = (*keys, index)
        if not _repeats(entry):
            yield _Entry(entry, here, passing)
            continue
        for key in entry:
            if key not in ("repeat", inside):
                place = document.key_origin((*here, key))
                advice = suggestion(key, ["repeat", inside])
                values = {"key": quoted(key), "where": "repeat", "suggestion": advice}
                document.findings.append(Finding("scenario.unknown-key", "error", place, values))
        repeated = entry.get(inside)
        if not isinstance(repeated, list) or not repeated:
            what = f"there is nothing to repeat in `{inside}`"
            _fault(document, here, what, f"Write `- repeat: 3` with a list below it: `{inside}:`.")
            continue
        for number in range(1, _count(document, here, entry) + 1):
            yield from _flat(document, (*here, inside), repeated, inside, number)


def _count(document: Document, keys: Keys, entry: dict[str, Any]) -> int:
    text = entry["repeat"]
    if isinstance(text, str) and text.isascii() and text.isdigit() and int(text[:9]) > 0:
        return int(text[:9])
    written = f"`{quoted(text)}`" if isinstance(text, str) else "this"
    _fault(
        document,
        (*keys, "repeat"),
        f"{written} doesn't say how often",
        "Write a whole number from 1 on, like `repeat: 3`.",
    )
    return 1


def _fault(document: Document, keys: Keys, what: str, instead: str) -> None:
    values = {"where": "repeat", "what": what, "instead": instead}
    document.findings.append(Finding("scenario.bad-value", "error", document.origin(keys), values))
