"""Plans of one scenario file: as saved, with other values, and other values written into it."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from choreo.case import Answer, Case, answer_with_sights, case_of, survey
from choreo.export.files import write_whole
from choreo.live.naming import files_named
from choreo.live.picture import faults_of, glimpse_of, picture_of, verdict_of
from choreo.live.sliders import Movable, movables, varied
from choreo.live.watching import digest_of
from choreo.repair import BEST, Patience, explain, rewritten
from choreo.scenario import Scenario
from choreo.scenario.sources import Source, source_of
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.records import dataclass

# What would help is looked for so long (s), after the verdict is shown.
HELP_S = 20.0

Told = dict[str, Any]
# What a page's sliders show, by name, each in its unit.
Shown = Mapping[str, float]


class Overtaken(Exception):
    """Something newer is asked: what is being planned is of no use any more."""


@dataclass()
class _Known:
    """The file as it was last read without a fault. digest: of its bytes."""

    digest: str
    source: Source
    scenario: Scenario
    case: Case
    picked: dict[str, Movable]
    offered: dict[str, Movable]


class Planner:
    """Plans one scenario file again and again; what doesn't change from plan to plan is kept."""

    def __init__(
        self,
        file: Path,
        asked: Sequence[str],
        overtaken: Callable[[], bool],
        first: Callable[[Told], None] = lambda _told: None,
    ) -> None:
        """asked: sliders by name. overtaken: whether something newer is asked by now.

        first: called with what is known of a plan before its room is.
        """
        self.file = file
        self.asked = tuple(asked)
        self._overtaken = overtaken
        self._first = first
        self._known: _Known | None = None
        self._last: Case | None = None
        self._to_explain: tuple[Answer, bool] | None = None

    def saved(self) -> Told:
        """Plan the file as it is now. Raises Overtaken."""
        began, digest = time.perf_counter(), digest_of(self.file)
        self._to_explain = None
        try:
            source = source_of(self.file)
            scenario = source.scenario()
            case = case_of(scenario) if self._last is None else self._last.beside(scenario)
            asked, refused = self._asked(case, source)
            picked, offered = movables(case, source, self.file, asked)
            # From here on sliders may be moved, even where there is no plan.
            self._known = _Known(digest, source, scenario, case, picked, offered)
            self._last = case
            told = self._planned(case)
        except ChoreoError as error:
            return {
                "faults": faults_of(error.findings),
                "files": sorted(files_named(self.file)),
                "seconds": time.perf_counter() - began,
            }
        return {
            **told,
            "files": sorted({*files_named(self.file), *scenario.source_files}),
            "picked": [asdict(one.slider) for one in picked.values()],
            "offered": [asdict(one.slider) for one in offered.values()],
            "refused": refused,
            "seconds": time.perf_counter() - began,
        }

    def what_if(self, shown: Shown) -> Told:
        """Plan the scenario with what the sliders show. Raises Overtaken."""
        if self._known is None:
            return self.saved()
        began, known = time.perf_counter(), self._known
        self._to_explain = None
        try:
            changes = [(one, one.change(value).value) for one, value in self._moved(known, shown)]
            if changes:
                case = known.case.beside(varied(known.scenario, changes))
                self._last = case
                told = self._planned(case, shown)
            else:
                told = self._planned(known.case)
        except ChoreoError as error:
            told = {"faults": faults_of(error.findings)}
        return {**told, "seconds": time.perf_counter() - began}

    def helped(self) -> Told | None:
        """Look for what would make the last one work; nothing where it works. Raises Overtaken."""
        if self._to_explain is None:
            return None
        (found, in_file), self._to_explain = self._to_explain, None
        plan = explain(found, patience=Patience(HELP_S, tell=self._step), most=BEST).plan
        return {"picture": picture_of(found, plan, in_file=in_file), "faults": []}

    def write(self, shown: Shown) -> Told:
        """Put what the sliders show into the file; all else in it stays. Never into one that has changed since."""
        known = self._known
        try:
            if known is None or digest_of(self.file) != known.digest:
                raise self._not_written("the file has changed since it was planned")
            changes = [one.change(value) for one, value in self._moved(known, shown)]
            text = rewritten(self.file, known.scenario, changes, self.file)
            if digest_of(self.file) != known.digest:
                raise self._not_written("the file has changed since it was planned")
            write_whole(self.file, text)
        except ChoreoError as error:
            return {"not_written": faults_of(error.findings)}
        return {"written": [change.quantity.name for change in changes]}

    def _asked(self, case: Case, source: Source) -> tuple[list[str], list[dict[str, str]]]:
        """The asked sliders that there are, and the faults of the others."""
        sound, faults = [], []
        for one in self.asked:
            try:
                movables(case, source, self.file, (one,))
                sound.append(one)
            except ChoreoError as error:
                faults += faults_of(error.findings)
        return sound, faults

    def _moved(self, known: _Known, shown: Shown) -> list[tuple[Movable, float]]:
        """What is moved away from the file's value, and to where, each in its unit."""
        return [
            (one, value)
            for name, value in shown.items()
            if (one := known.offered.get(name)) is not None and value != one.slider.value
        ]

    def _planned(self, case: Case, shown: Shown | None = None) -> Told:
        """shown: what the sliders show, None for the file as it stands."""
        in_file = shown is None
        answered, sights = answer_with_sights(case, progress=self._step)
        if shown is not None and answered.feasible:
            self._first({"first": glimpse_of(answered, shown)})
        found = survey(answered, sights, progress=self._step)
        if not found.feasible:
            self._to_explain = found, in_file
        return {
            "picture": picture_of(found, found.plan, in_file=in_file),
            "verdict": verdict_of(found.plan),
            "in_file": in_file,
            "faults": [],
        }

    def _step(self, _what: str) -> None:
        if self._overtaken():
            raise Overtaken

    def _not_written(self, why: str) -> ChoreoError:
        place = Origin(str(self.file), 1, 1)
        return ChoreoError((Finding("plan.not-applicable", "error", place, {"why": why}),))
