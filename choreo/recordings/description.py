"""A recording description, read: which channels hold what, and which files belong to which run."""

from __future__ import annotations

import glob
from collections.abc import Iterator
from dataclasses import field
from pathlib import Path

from choreo.recordings.others import faults_of_signals
from choreo.recordings.record import Uncertainty
from choreo.recordings.written import (
    PositionWritten,
    RecordedMoverWritten,
    RecordingWritten,
    TimeWritten,
)
from choreo.scenario.making.draft import Draft
from choreo.scenario.text.document import Document, Keys, parse_document, read_text
from choreo.scenario.written.faults import in_order, validated
from choreo.words import ChoreoError, Finding, Origin, errors_of
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

BEGINS_WITH = "choreo recording"
# What a pattern of files has.
PATTERN = frozenset("*?[")
DELIMITERS = {",": ",", ";": ";", "tab": "\t", "|": "|", "space": " "}
PAIRS = (("x", "y"), ("easting", "northing"), ("longitude", "latitude"))


@dataclass(frozen=True)
class Description:
    """What a description says. document: for the places of faults."""

    path: Path
    written: RecordingWritten
    document: Document = field(repr=False)

    def origin(self, *keys: str | int) -> Origin:
        """Give the place of an entry."""
        return self.document.origin(keys)

    @property
    def delimiter(self) -> str | None:
        """What parts the cells of a line, where it is said."""
        return None if self.written.delimiter is None else DELIMITERS[self.written.delimiter]

    @property
    def uncertainty(self) -> Uncertainty:
        """What is said of how sure measured values are; else what ISO 22733-1 asks of a measuring system."""
        one, usual = self.written.uncertainty, Uncertainty()
        if one is None:
            return usual
        return Uncertainty(
            usual.position_m if one.position is None else one.position,
            usual.speed_mps if one.speed is None else one.speed,
            usual.heading_rad if one.heading is None else one.heading,
            usual.time_s if one.time is None else one.time,
            given=True,
        )

    def time_of(self, mover: str | None) -> tuple[TimeWritten | None, Keys]:
        """Give the clock of a mover's file (None: of the common one) and its place."""
        own = None if mover is None else self.written.movers[mover].time
        if own is not None and mover is not None:
            return own, ("movers", mover, "time")
        return self.written.time, ("time",)

    def runs(self) -> list[dict[str | None, Path]]:
        """Give the files of each run: of a mover by its name, the common one under None; sorted by name.

        Raises ChoreoError: no such file, movers with different numbers of files.
        """
        patterns: dict[str | None, tuple[str, Keys]] = {}
        if self.written.files is not None:
            patterns[None] = (self.written.files, ("files",))
        for name, mover in self.written.movers.items():
            if mover.files is not None:
                patterns[name] = (mover.files, ("movers", name, "files"))
        found = {key: self._files(*one) for key, one in patterns.items()}
        counts = {len(files) for files in found.values()}
        if len(counts) > 1:
            told = ", ".join(f"{len(files)} for {key or 'all'}" for key, files in found.items())
            raise self._fault(
                ("movers",),
                f"there are files of different numbers of runs: {told}",
                "Give each mover one file a run, named so that they sort alike.",
            )
        return [dict(zip(found, files, strict=True)) for files in zip(*found.values(), strict=True)]

    def _files(self, pattern: str, keys: Keys) -> list[Path]:
        folder = self.path.parent
        if not PATTERN & set(pattern):
            # A single file that is not there is told when it is read.
            return [folder / pattern]
        files = [Path(one) for one in sorted(glob.glob(str(folder / pattern)))]
        if not files:
            raise self._fault(
                keys,
                f"no file is named like `{quoted(pattern)}` in {quoted(str(folder))}",
                "Write the files relative to this file, like `runs/*.csv`.",
            )
        return files

    def _fault(self, keys: Keys, why: str, instead: str) -> ChoreoError:
        values = {"why": why, "instead": instead}
        return ChoreoError(
            [Finding("recording.unfit", "error", self.document.origin(keys), values)]
        )


def is_description(path: Path) -> bool:
    """Say whether a file is a recording description, by name and first key. Raises ChoreoError: it can't be read."""
    if path.suffix.lower() not in (".yaml", ".yml"):
        return False
    return BEGINS_WITH in parse_document(read_text(path), str(path)).data


def load_description(path: Path) -> Description:
    """Read a recording description. Raises ChoreoError with every fault, each with file, line and column."""
    document = parse_document(read_text(path), str(path))
    draft = Draft(document)
    if BEGINS_WITH not in document.data:
        values = {
            "why": f"{quoted(str(path))} is no recording description",
            "instead": "Begin it with `choreo recording: 1`.",
        }
        raise ChoreoError([Finding("recording.unfit", "error", Origin(str(path), 1, 1), values)])
    findings = draft.findings
    findings += document.findings
    written = validated(document, RecordingWritten, findings)
    if written is not None:
        findings += _faults(written, document)
    if written is None or errors_of(findings):
        raise ChoreoError(in_order(findings))
    return Description(path, written, document)


def _faults(written: RecordingWritten, document: Document) -> Iterator[Finding]:
    def fault(keys: Keys, why: str, instead: str) -> Finding:
        values = {"why": why, "instead": instead}
        return Finding("recording.unfit", "error", document.origin(keys), values)

    if written.delimiter is not None and written.delimiter not in DELIMITERS:
        known = ", ".join(f"`{one}`" for one in DELIMITERS)
        yield fault(
            ("delimiter",),
            f"`{quoted(written.delimiter)}` parts no cells",
            f"Write one of {known}.",
        )
    if written.decimal not in (None, ",", "."):
        yield fault(
            ("decimal",),
            f"`{quoted(written.decimal or '')}` is no decimal sign",
            "Write `,` or `.`.",
        )
    if not written.movers:
        yield fault(
            ("movers",), "no mover was recorded", "Name the channels of at least one mover."
        )
    for name, mover in written.movers.items():
        keys: Keys = ("movers", name)
        if mover.files is None and written.files is None:
            yield fault(keys, f"{name} has no file", "Write `files` for all, or for each mover.")
        if mover.time is None and written.time is None:
            yield fault(keys, f"{name} has no time", "Write `time: {channel: ..., unit: s}`.")
        if mover.time is not None and mover.files is None:
            yield fault(
                (*keys, "time"),
                f"{name} has a clock of its own but no `files`",
                "A file has one clock: write `time` for all, or give the mover its `files`.",
            )
        yield from (fault((*keys, "position"), *one) for one in _of_position(mover.position))
        yield from (
            fault((*keys, "signals", signal), *told) for signal, *told in faults_of_signals(mover)
        )
    for name, event in written.events.items():
        if (event.rises is None) == (event.falls is None):
            yield fault(
                ("events", name),
                f"event {name} needs one of `rises` and `falls`",
                "Write `{channel: ..., rises: 0.5}`.",
            )


def _of_position(one: PositionWritten) -> Iterator[tuple[str, str]]:
    given = [pair for pair in PAIRS if any(getattr(one, key) is not None for key in pair)]
    if len(given) != 1:
        yield (
            "a position is one pair of channels",
            "Write `x` and `y`, `easting` and `northing` with `grid`, or `longitude` and `latitude`.",
        )
        return
    (pair,) = given
    missing = [key for key in pair if getattr(one, key) is None]
    if missing:
        yield (
            f"`{missing[0]}` is missing beside `{next(k for k in pair if k not in missing)}`",
            f"Write both of `{pair[0]}` and `{pair[1]}`.",
        )
    if (pair[0] == "easting") != (one.grid is not None):
        if one.grid is None:
            yield (
                "eastings and northings are of a grid",
                "Write its EPSG code, like `grid: EPSG:25832`.",
            )
        else:
            yield (
                "`grid` is for eastings and northings",
                "Leave it out, or write `easting` and `northing`.",
            )


def nearest_mover(name: str, known: list[str]) -> str:
    """Give advice for a mover that the scenario doesn't have."""
    nearest = nearest_word(name, known)
    listed = ", ".join(f"`{one}`" for one in known)
    return f"Did you mean `{nearest}`?" if nearest else f"The scenario has {listed}."


__all__ = [
    "Description",
    "RecordedMoverWritten",
    "is_description",
    "load_description",
    "nearest_mover",
]
