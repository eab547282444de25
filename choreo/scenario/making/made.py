"""What comes of parts of a scenario file: of the files that it names, and of its own entries."""

from __future__ import annotations

from dataclasses import field

from choreo.scenario.records.scenario import Mover, PathSpec
from choreo.scenario.records.site import SiteSpec
from choreo.scenario.text.document import Document
from choreo.scenario.written import scenario as w
from choreo.words.records import dataclass


@dataclass()
class Shared:
    """What site and fleet files give: paths, and entries with the document they stand in."""

    site: SiteSpec | None = None
    paths: dict[str, PathSpec] = field(default_factory=dict)
    entries: dict[str, tuple[w.FleetEntryWritten, Document]] = field(default_factory=dict)
    known_entries: set[str] = field(default_factory=set)
    whole: bool = True


@dataclass()
class Made:
    """What was made of entries without anything to say of them, each with the entry as written.

    A neighbour in which the very same is written takes it over. liked: movers and fleet entries whose places are known.
    """

    written: w.FileWritten | None = None
    paths: dict[str, tuple[w.PathWritten, PathSpec]] = field(default_factory=dict)
    movers: dict[str, tuple[w.MoverWritten, Mover]] = field(default_factory=dict)
    liked: set[tuple[str, str]] = field(default_factory=set)

    @property
    def places_stay(self) -> bool:
        """Whether all that was written is where it was: no phase follows, and others stand in its place."""
        movers = {} if self.written is None else self.written.movers
        return all(phase.follow is None for one in movers.values() for phase in one.programme)

    def copy(self) -> Made:
        """Give one that a neighbour may change."""
        liked = set(self.liked) if self.places_stay else set()
        return Made(self.written, dict(self.paths), dict(self.movers), liked)
