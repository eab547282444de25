"""A file of a shared site -> what it says and its circuits, checked; nothing is planned."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path as File

from choreo.circuits.reading import load_circuit
from choreo.circuits.records import Circuit
from choreo.scenario import load
from choreo.scenario.making.companions import check_kind, named_at
from choreo.scenario.making.draft import Draft
from choreo.scenario.text.document import Document, Keys, parse_document, read_text
from choreo.scenario.written.faults import in_order, validated
from choreo.sharing.written import MOST_VEHICLES, ShareWritten
from choreo.words import ChoreoError, Finding, Origin, errors_of
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

BEGINS_WITH = "choreo share"
# Names of places that are so much alike may be one, misspelt: two letters of four that have changed places are.
ALIKE_RATIO = 0.74


@dataclass(frozen=True)
class Shared:
    """A file of a shared site as written, and its circuits by the files that it names. notes: what may be a slip."""

    written: ShareWritten
    draft: Draft
    circuits: Mapping[str, Circuit]
    notes: tuple[Finding, ...] = ()

    def named(self, file: str) -> Origin:
        """Give the place at which a circuit's file is named first."""
        name = next(name for name, one in self.written.vehicles.items() if one.file == file)
        return self.draft.document.origin(("vehicles", name, "file"))


def load_share(file: File) -> Shared:
    """Load a file of a shared site with the circuits and scenarios that it names.

    Raises ChoreoError with every fault found, each with file, line and column.
    """
    document = parse_document(read_text(file), str(file), BEGINS_WITH)
    draft = Draft(document)
    check_kind(document, BEGINS_WITH)
    written = validated(document, ShareWritten, draft.findings)
    if written is None or errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    _check_counts(draft, written)
    circuits: dict[str, Circuit] = {}
    staged: set[str] = set()
    for name, one in written.vehicles.items():
        keys = ("vehicles", name)
        choices = {"file": one.file, "visits": one.visits, "staged": one.staged}
        if draft.one_of(keys, name, choices) is None:
            continue
        try:
            if one.file is not None and one.file not in circuits:
                circuits[one.file] = load_circuit(file.parent / one.file)
            if one.staged is not None and one.staged not in staged:
                staged.add(one.staged)
                load(file.parent / one.staged)
        except ChoreoError as error:
            key = "staged" if one.file is None else "file"
            draft.findings += named_at(document.origin((*keys, key)), error.findings)
    _check_staged(draft, written)
    if not errors_of(draft.findings):
        _check(draft, written, circuits)
    if errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    return Shared(written, draft, circuits, tuple(_slips(document, written)))


def _check_staged(draft: Draft, written: ShareWritten) -> None:
    """What is of staged tests alone stands beside `staged`."""
    for name, one in written.vehicles.items():
        if one.staged is not None:
            continue
        for key, value in (("runs", one.runs), ("between runs", one.between), ("at", one.at)):
            if value is not None:
                draft.fault(
                    "scenario.bad-value",
                    ("vehicles", name, key),
                    where=f"vehicles > {name} > {key}",
                    what="it is of a staged test",
                    instead="Write `staged: FILE` beside it, or leave it out.",
                )


def _check_counts(draft: Draft, written: ShareWritten) -> None:
    """There is somebody, no more than can be told apart, and who visits places has one to visit."""
    count = sum(one.count for one in written.vehicles.values())
    if not 0 < count <= MOST_VEHICLES:
        draft.fault(
            "scenario.bad-value",
            ("vehicles",),
            where="vehicles",
            what=f"there are {count} of them",
            instead=f"Write from 1 to {MOST_VEHICLES} in all.",
        )
    for name, one in written.vehicles.items():
        if one.visits is not None and not one.visits:
            draft.fault(
                "scenario.bad-value",
                ("vehicles", name, "visits"),
                where=f"vehicles > {name} > visits",
                what="there is none",
                instead="Write one at least, like `visits: [{at: scales, for: 5 min}]`.",
            )
    if errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))


def _check(draft: Draft, written: ShareWritten, circuits: Mapping[str, Circuit]) -> None:
    """All drive one main path, and single places are excursions of somebody."""
    mains = {name: one.base.paths[one.written.main] for name, one in circuits.items()}
    first = next(iter(mains.values()), None)
    for name, one in written.vehicles.items():
        if one.file is not None and mains[one.file] != first:
            keys = ("vehicles", name, "file")
            draft.fault("share.other-track", keys, vehicle=quoted(name), file=quoted(one.file))
    known = {name for circuit in circuits.values() for name in circuit.excursions}
    for index, name in enumerate(written.single):
        if name not in known:
            draft.unknown(("single", index), "excursion", name, sorted(known))
    _check_places(draft, written, sorted(known))


def _check_places(draft: Draft, written: ShareWritten, excursions: Sequence[str]) -> None:
    """A place that is named once only, nearly as an excursion, is that excursion misspelt."""
    places = _places(written)
    named = Counter(place for _, place in places)
    for place_keys, place in places:
        if place not in excursions and named[place] == 1 and nearest_word(place, excursions):
            draft.unknown(place_keys, "excursion", place, excursions)


def _slips(document: Document, written: ShareWritten) -> Iterator[Finding]:
    """Tell places that are named once, nearly as one that is named before or oftener: two places, or one misspelt."""
    places = _places(written)
    named = Counter(place for _, place in places)
    before: list[str] = []
    for keys, place in places:
        others = [one for one in named if one != place and (one in before or named[one] > 1)]
        before.append(place)
        alike = get_close_matches(place, others, 1, ALIKE_RATIO) if named[place] == 1 else []
        # `bay1` and `bay2`, `pad-a` and `pad-b` are two.
        if alike and _unnumbered(place) != _unnumbered(alike[0]):
            values = {"place": quoted(place), "other": quoted(alike[0])}
            yield Finding("share.alike-places", "warning", document.origin(keys), values, ())


def _unnumbered(place: str) -> str:
    return " ".join(one for one in re.sub(r"[\d_-]", " ", place).split() if len(one) > 1)


def _places(written: ShareWritten) -> list[tuple[Keys, str]]:
    """Give the places that are named beside circuits, each with where it stands in the file."""
    places: list[tuple[Keys, str]] = []
    for name, one in written.vehicles.items():
        keys = ("vehicles", name)
        visits = enumerate(one.visits or ())
        places += [((*keys, "visits", index, "at"), visit.at) for index, visit in visits]
        if one.at is not None:
            places.append(((*keys, "at"), one.at))
    return places
