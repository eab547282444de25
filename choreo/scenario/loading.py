"""A scenario file, with the site and fleet files it names -> a checked Scenario, or all its faults."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from choreo.scenario.checks.loops import check_loops
from choreo.scenario.checks.references import check_encounters, check_movers, check_triggers
from choreo.scenario.making.companions import companion_of, kind_told
from choreo.scenario.making.courses import check_faulty_course
from choreo.scenario.making.draft import Draft, Landmarks
from choreo.scenario.making.encounters import encounter_of
from choreo.scenario.making.errors import error_sources_of
from choreo.scenario.making.following import Following, write_out_following
from choreo.scenario.making.made import Made, Shared
from choreo.scenario.making.matrix import matrix_of
from choreo.scenario.making.moments import instant_of
from choreo.scenario.making.movers import body_of, filled_in, limits_of, mover_of, turned_round
from choreo.scenario.making.paths import check_beside, drives_backwards, mark_names, path_of
from choreo.scenario.making.preference import extreme_of
from choreo.scenario.making.programme import check_usual, phase_names, programme_of
from choreo.scenario.making.returning import Returning, without_returns
from choreo.scenario.making.safety import rules_of, safety_of
from choreo.scenario.making.sights import sights_of
from choreo.scenario.making.site import site_of, site_paths
from choreo.scenario.making.tolerances import tolerances_of
from choreo.scenario.making.triggers import trigger_of
from choreo.scenario.making.values import substitute
from choreo.scenario.records.placed import moved_to
from choreo.scenario.records.scenario import (
    Body,
    Encounter,
    Extreme,
    Instant,
    Limits,
    Mover,
    PathSpec,
    Scenario,
    Trigger,
)
from choreo.scenario.records.site import SiteSpec
from choreo.scenario.text.document import Document, Keys, parse_document, read_text
from choreo.scenario.text.repeats import write_out
from choreo.scenario.text.turning import lay_turning
from choreo.scenario.written import scenario as w
from choreo.scenario.written.errors import ErrorsWritten
from choreo.scenario.written.faults import in_order, validated
from choreo.scenario.written.site import SiteWritten
from choreo.words import ChoreoError, Finding, Origin, errors_of, remarks_of
from choreo.words.kinds import NamedKind
from choreo.words.quantities import quoted

Model = TypeVar("Model", bound=BaseModel)

# The sections whose names may stand alone in an event expression.
NAMED: Mapping[str, NamedKind] = {
    "encounters": "encounter",
    "triggers": "trigger",
    "instants": "instant",
}
# Sections of named entries, each of which must come out in the scenario.
NAMED_SECTIONS = ("paths", "movers", "triggers", "encounters", "instants", "sights", "values")
# Words that plans and events have for themselves, by the section that they can't name anything of.
RESERVED: Mapping[str, Mapping[str, str]] = {
    "triggers": {
        "go": "`go` is when the run begins, and what a plan calls a launch without a trigger",
        "time": "`time` is what a plan calls a launch at a given time",
    },
    "movers": {"all": "`all` is what a plan calls all movers together"},
}
UNLIMITED = Limits(math.inf, ((0.0, math.inf),), math.inf)


def load(path: str | Path) -> Scenario:
    """Load a scenario file and what it names.

    What it names is relative to the folder in which path says that it lies: of a scenario opened by a
    link, the link's folder. Raises ChoreoError with every fault found, each with file, line and column.
    """
    file = Path(path)
    return loads(read_text(file), str(path), file.parent)


def loads(text: str, file: str, folder: Path) -> Scenario:
    """Load a scenario from text; file names it in messages, folder is where its references start."""
    document = parse_document(text, file)
    write_out(document)
    lay_turning(document)
    return Loading(document, folder).scenario()


class Loading:
    """One scenario file on its way to records."""

    def __init__(self, document: Document, folder: Path) -> None:
        self.document = document
        self.folder = folder
        self.draft = Draft(document)
        self.files = [document.file]
        self.shared = Shared()
        self.made = Made()
        self.places = document.places
        self.extreme: Extreme | None = None
        self.off: dict[str, ErrorsWritten] = {}
        self.uses: dict[str, tuple[Origin, ...]] = {}

    def scenario(self) -> Scenario:
        """Give the checked scenario. Raises ChoreoError: every fault found."""
        self.draft.findings += self.document.findings
        self._refuse_other_files()
        values, self.uses = self._substituted()
        self.extreme = extreme_of(self.document)
        written = self._read()
        if written is None:
            raise ChoreoError(in_order(self.draft.findings))
        self.made.written = written
        self._share(written)
        returning = without_returns(self.draft, written)
        following = write_out_following(self.draft, returning.written)
        scenario = self._assembled(following, returning, values)
        if not errors_of(self.draft.findings):
            self._check_whole(scenario)
        if errors_of(self.draft.findings):
            raise ChoreoError(in_order(self.draft.findings))
        return scenario

    def _substituted(self) -> tuple[dict[str, str], dict[str, tuple[Origin, ...]]]:
        """The named values put in their places, and where each is used."""
        return substitute(self.draft, self.document)

    def _read(self) -> w.FileWritten | None:
        """The whole file as written."""
        return self._validated(self.document, w.FileWritten)

    def _check_whole(self, scenario: Scenario) -> None:
        """Everything that is written by name is there: what a run leaves out must never look planned."""
        for section in NAMED_SECTIONS:
            made = getattr(scenario, section)
            for name in self._raw_names(section):
                if name not in made:
                    self.draft.fault("scenario.left-out", (section, name), name=quoted(name))

    def _validated(self, document: Document, model: type[Model]) -> Model | None:
        return validated(document, model, self.draft.findings)

    def _refuse_other_files(self) -> None:
        told = kind_told(self.document.data)
        if told is not None and told[0] != "choreo":
            self.draft.fault("scenario.other-file", (told[0],), kind=told[1])
            raise ChoreoError(in_order(self.draft.findings))

    def _raw_names(self, section: str) -> list[str]:
        """Every name of a section as written, faulty entries too."""
        return self.document.names(section)

    def _share(self, written: w.FileWritten) -> None:
        if written.site is not None:
            site = self._companion(written.site, ("site",), SiteWritten)
            if site is not None:
                self._take_site(*site)
            self.draft.paths_known = site is not None and site[1].is_block("paths")
        fleets = (written.fleet,) if isinstance(written.fleet, str) else written.fleet or ()
        for index, name in enumerate(fleets):
            keys: Keys = ("fleet",) if isinstance(written.fleet, str) else ("fleet", index)
            fleet = self._companion(name, keys, w.FleetWritten)
            if fleet is not None:
                self._fleet_entries(*fleet)

    def _companion(
        self, name: str, keys: Keys, model: type[Model]
    ) -> tuple[Model, Document] | None:
        """Read a file that this one names; its faults are at its own places."""
        file = self.folder / name
        found = companion_of(file, model, self.draft.findings, self.document.origin(keys))
        if found is None:
            self.shared.whole = False
        else:
            self.files.append(str(file))
        return found

    def _fleet_entries(self, fleet: w.FleetWritten, document: Document) -> None:
        self.shared.known_entries |= set(document.names("movers"))
        self.shared.whole &= document.is_block("movers")
        for name, entry in fleet.movers.items():
            if name in self.shared.entries:
                _, other = self.shared.entries[name]
                self.draft.findings.append(
                    _same_name(
                        name,
                        "an entry of one fleet file",
                        "an entry of another",
                        document.origin(("movers", name)),
                        other.origin(("movers", name)),
                    )
                )
            self.shared.entries[name] = (entry, document)

    def _take_site(self, site: SiteWritten, document: Document) -> None:
        draft = Draft(document)
        self.shared.paths |= site_paths(draft, site)
        self.shared.site = site_of(draft, site)
        self.draft.findings += draft.findings
        self.draft.paths += draft.paths
        self.draft.files += draft.files
        for name in self._raw_names("paths"):
            if name in draft.paths:
                here, there = (one.origin(("paths", name)) for one in (self.document, document))
                self.draft.findings.append(
                    _same_name(name, "a path of the site", "a path of this file", here, there)
                )
        for keys, place in document.places.items():
            if keys[:1] == ("paths",):
                self.places.setdefault(keys, place)

    def _assembled(
        self, following: Following, returning: Returning, values: Mapping[str, str]
    ) -> Scenario:
        draft, written = self.draft, following.written
        paths = self._paths(written)
        self._names(written, paths)
        movers, bodies = self._movers(written, paths)
        movers = returning.linked(draft, following.linked(movers))
        encounters: dict[str, Encounter] = {}
        for name, encounter in written.encounters.items():
            made = encounter_of(draft, name, encounter, bodies)
            if made is not None:
                encounters[name] = made
        instants: dict[str, Instant] = {}
        for name, instant in written.instants.items():
            one = instant_of(draft, name, instant)
            if one is not None:
                instants[name] = one
        triggers: dict[str, Trigger] = {}
        for name, trigger in written.triggers.items():
            found = trigger_of(draft, name, trigger)
            if found is not None:
                triggers[name] = found
        check_encounters(draft, written.encounters)
        triggers = check_triggers(draft, triggers, encounters, movers)
        check_movers(draft, movers, paths, encounters)
        check_loops(draft, encounters, instants, movers)
        errors = error_sources_of(draft, written, self.off, movers)
        sights = sights_of(draft, written.sights, movers, encounters)
        on = self._placed_on(written)
        scenario = Scenario(
            title=written.title,
            about=written.about,
            conditions=written.conditions,
            prefer=written.prefer,
            paths=paths,
            movers=movers,
            triggers=triggers,
            encounters=encounters,
            instants=instants,
            matrix=matrix_of(draft, (), written, written.values),
            keep=written.keep,
            extreme=self.extreme,
            site=self.shared.site,
            cheap=written.cheap,
            safety=safety_of(written.safety),
            sights=sights,
            errors=errors,
            tolerances=tolerances_of(draft, written),
            rules=rules_of(draft, written, self.folder),
            values=values,
            uses=self.uses,
            notes=remarks_of(draft.findings),
            source_files=(*self.files, *draft.files),
            places=self.places,
        )
        if written.placed is None:
            return scenario
        pose = (*written.placed.at, written.placed.turned)
        return replace(moved_to(scenario, *pose), site=on, placed=pose)

    def _placed_on(self, written: w.FileWritten) -> SiteSpec | None:
        """The site on whose ground the whole scenario is put: another one where `placed` names it."""
        if written.placed is None or written.placed.on is None:
            return self.shared.site
        site = self._companion(written.placed.on, ("placed", "on"), SiteWritten)
        if site is None:
            return None
        draft = Draft(site[1])
        spec = site_of(draft, site[0])
        self.draft.findings += draft.findings
        self.draft.files += draft.files
        return spec

    def _paths(self, written: w.FileWritten) -> dict[str, PathSpec]:
        paths = dict(self.shared.paths)
        self.draft.paths += self._raw_names("paths")
        for name, path in written.paths.items():
            before = len(self.draft.findings)
            known, made = self.made.paths.get(name, (None, None))
            if known is not path:
                made = path_of(self.draft, ("paths", name), path, self.folder)
                self.made.paths.pop(name, None)
                self.made.movers.clear()  # which way they face hangs on their paths
            if made is not None:
                paths[name] = made
                if len(self.draft.findings) == before:
                    self.made.paths[name] = path, made

        for name in self._raw_names("paths"):
            if name not in written.paths:
                check_faulty_course(self.draft, ("paths", name), self.document.data["paths"][name])
        check_beside(self.draft, paths, set(written.paths))
        return paths

    def _names(self, written: w.FileWritten, paths: Mapping[str, PathSpec]) -> None:
        draft = self.draft
        for section, kind in NAMED.items():
            for name in self._raw_names(section):
                known = draft.names.setdefault(name, kind)
                if known != kind:
                    other = next(plural for plural, one in NAMED.items() if one == known)
                    here, there = (
                        self.document.origin((section, name)),
                        self.document.origin((other, name)),
                    )
                    draft.findings.append(_same_name(name, _a(known), _a(kind), here, there))
        for section, words in RESERVED.items():
            for name in self._raw_names(section):
                if name in words:
                    keys = (section, name)
                    draft.fault("scenario.reserved-name", keys, name=name, why=words[name])
        for name in self._raw_names("movers"):
            mover = written.movers.get(name)
            if mover is None:
                draft.movers[name] = Landmarks(whole=False)
                continue
            marks = mark_names(mover.path or "", paths)
            whole = mover.path in paths or mover.stand is not None
            draft.movers[name] = Landmarks(phase_names(mover.programme), marks, whole)

    def _movers(
        self, written: w.FileWritten, paths: Mapping[str, PathSpec]
    ) -> tuple[dict[str, Mover], dict[str, Body]]:
        movers: dict[str, Mover] = {}
        bodies: dict[str, Body] = {}
        for name, mover in written.movers.items():
            known, other = self.made.movers.pop(name, (None, None))
            if other is not None and known is mover:
                self.made.movers[name] = mover, other
                movers[name], bodies[name] = other, other.body
                continue
            before = len(self.draft.findings)
            whole = self._like(name, mover)
            if whole is None:
                continue
            keys: Keys = ("movers", name)
            body = body_of(self.draft, (*keys, "body"), name, whole.body)
            moves = bool(whole.programme)
            limits = limits_of(
                self.draft, (*keys, "limits"), name, whole.limits, moves=moves, kind=whole.kind
            )
            backwards = drives_backwards(self.draft, keys, mover, paths)
            if body is not None:
                body = turned_round(body) if backwards else body
                bodies[name] = body
            programme = programme_of(self.draft, name, whole, limits or UNLIMITED)
            check_usual(self.draft, name, whole.usual, limits or UNLIMITED)
            if whole.stand is not None and whole.start is not None:
                self.draft.fault(
                    "scenario.not-together",
                    (*keys, "start"),
                    where=name,
                    first="`stand`",
                    second="`start`",
                )
            if body is None or limits is None:
                continue
            if whole.errors is not None:
                self.off[name] = whole.errors
            movers[name] = mover_of(whole, name, body, limits, programme)
            if len(self.draft.findings) == before and whole.errors is None:
                self.made.movers[name] = mover, movers[name]
        return movers, bodies

    def _like(self, name: str, mover: w.MoverWritten) -> w.MoverWritten | None:
        """Fill in what the fleet's entry says and the mover does not; places follow.

        None when the entry isn't there or is faulty: nobody knows then what the mover lacks.
        """
        if mover.like is None:
            return mover
        if mover.like not in self.shared.entries:
            known = self.shared.known_entries
            if mover.like not in known and self.shared.whole:
                self.draft.unknown(
                    ("movers", name, "like"), "fleet entry", mover.like, sorted(known)
                )
            return None
        entry, document = self.shared.entries[mover.like]
        if (name, mover.like) not in self.made.liked:
            self.made.liked.add((name, mover.like))
            for keys, place in document.places.items():
                if keys[:2] == ("movers", mover.like) and len(keys) > 2:
                    self.places.setdefault(("movers", name, *keys[2:]), place)
        return filled_in(mover, entry)


def _same_name(name: str, first: str, second: str, here: Origin, there: Origin) -> Finding:
    values = {"name": quoted(name), "first": first, "second": second}
    return Finding("scenario.same-name", "error", here, values, (there,))


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"
