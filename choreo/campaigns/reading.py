"""A campaign file, or a scenario that varies something, -> a checked Campaign, or all its faults."""

from __future__ import annotations

import math
from collections.abc import Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from choreo.campaigns.by_rules import repeats_of, spaced
from choreo.campaigns.day.spec import DaySpec, check_day, spec_of
from choreo.campaigns.day.written import DayWritten
from choreo.campaigns.records import Campaign, Run
from choreo.campaigns.varying import Varying
from choreo.campaigns.written import CampaignWritten, RunWritten
from choreo.rules.applied import rules_of
from choreo.scenario import Scenario
from choreo.scenario.making.companions import named_at
from choreo.scenario.making.draft import Draft
from choreo.scenario.making.matrix import matrix_of
from choreo.scenario.records.matrix import Matrix
from choreo.scenario.sources import Source, source_of
from choreo.scenario.text.document import Document, Keys, parse_document, read_text
from choreo.scenario.written.faults import findings_of, in_order, without_faulty
from choreo.words import ChoreoError, Finding, Origin, errors_of

BEGINS_WITH = "choreo campaign"
# Of each list so many values are made scenarios of before anything is planned.
MOST_LOOKED_AT = 100
# Of a run with more variants than this none can be named.
MOST_NAMED = 100_000


def load_campaign(path: Path, most: float = math.inf) -> Campaign:
    """Load a campaign file with the scenarios that it names, or a scenario as a campaign of its own `vary`.

    Files are relative to the campaign's folder. most: how many variants are meant. Raises ChoreoError with every fault
    of the files and of the matrix, each with file, line and column, campaign.too-many; nothing is planned.
    """
    document = parse_document(read_text(path), str(path))
    whole = BEGINS_WITH in document.data
    campaign = _Reading(document, path.parent).campaign() if whole else _of_scenario(path, document)
    if campaign.most > most:
        values = {"count": f"{campaign.most:,}", "most": f"{most:,.0f}"}
        raise ChoreoError((Finding("campaign.too-many", "error", Origin(str(path), 1, 1), values),))
    faults = [
        finding for run in campaign.runs.values() for finding in _faults_of_values(run.varying)
    ]
    if faults:
        raise ChoreoError(in_order(faults))
    return campaign


def is_campaign(path: Path) -> bool:
    """Say whether a file is a campaign file. Raises ChoreoError: it can't be read."""
    return BEGINS_WITH in parse_document(read_text(path), str(path)).data


def _of_scenario(path: Path, document: Document) -> Campaign:
    if "runs" in document.data and "movers" not in document.data:
        values = {
            "where": "the file",
            "what": f"it has `runs`, and isn't said to be a campaign: `{BEGINS_WITH}` is missing",
            "instead": f"Begin it with `{BEGINS_WITH}: 1`.",
        }
        raise ChoreoError((Finding("scenario.bad-value", "error", document.origin(()), values),))
    source = source_of(path)
    scenario = source.scenario()
    matrix = scenario.matrix
    places = _places(scenario.places, (), matrix, scenario.origin())
    varying = Varying(source, matrix, places, scenario.source_files)
    faults = [*varying.faults(scenario)]
    if faults:
        raise ChoreoError(in_order(faults))
    run = Run(path.stem, varying, repeats_of(scenario))
    return Campaign(scenario.title, {run.name: run}, scenario.source_files, scenario.about)


class _Reading:
    def __init__(self, document: Document, folder: Path) -> None:
        self.document = document
        self.folder = folder
        self.draft = Draft(document)
        self.files = [document.file]
        self.sources: dict[str, tuple[Source, Scenario] | None] = {}

    def campaign(self) -> Campaign:
        """Give the campaign. Raises ChoreoError: every fault found."""
        findings = self.draft.findings
        findings += self.document.findings
        written = self._written()
        runs: dict[str, Run | None] = {}
        for name, run in ({} if written is None else written.runs).items():
            runs[name] = self._run(name, run)
        if written is not None and self.document.data.get("runs") == {}:
            self.draft.fault(
                "scenario.bad-value",
                ("runs",),
                where="runs",
                what="there is no run",
                instead="Name a scenario: `runs: {near: {scenario: walker.yaml}}`.",
            )
        day = None if written is None else written.day
        if day is not None:
            check_day(self.draft, day, self._movers(), self._names(runs) if day.first else None)
        if written is None or errors_of(findings):
            raise ChoreoError(in_order(findings))
        read = {name: run for name, run in runs.items() if run is not None}
        files = tuple(dict.fromkeys(self.files))
        spec = None if day is None else self._spec(day)
        return Campaign(written.title, read, files, written.about, spec)

    def _written(self) -> CampaignWritten | None:
        """The file's model; of a file with faults what is left without them, for all other checks."""
        data = self.document.data
        try:
            return CampaignWritten.model_validate(data)
        except ValidationError as error:
            self.draft.findings += findings_of(error, self.document, CampaignWritten)
            rest = without_parts(data, error)
        try:
            return CampaignWritten.model_validate(rest)
        except ValidationError as error:
            rest = without_faulty(rest, error, CampaignWritten)
        try:
            return CampaignWritten.model_validate(rest)
        except ValidationError:
            return None

    def _spec(self, day: DayWritten) -> DaySpec:
        """The day; the time between runs, where it isn't written, is that of the scenarios' rules."""
        spec = spec_of(day)
        written = self.document.data.get("day")
        if isinstance(written, dict) and "between runs" in written:
            return spec
        return spaced(spec, [one[1] for one in self.sources.values() if one is not None])

    def _movers(self) -> list[str] | None:
        """The movers of all scenarios, None where some can't be read."""
        read = [one for one in self.sources.values() if one is not None]
        if len(read) < len(self.sources) or not read:
            return None
        return [name for _, scenario in read for name in scenario.movers]

    def _names(self, runs: Mapping[str, Run | None]) -> list[str] | None:
        """Names that `first` may have, of runs and of their variants; None where some run has faults."""
        written = self.document.data.get("runs")
        known = [run for run in runs.values() if run is not None]
        if not isinstance(written, dict) or len(known) < len(written):
            return None
        variants = (run.variants() for run in known if run.most <= MOST_NAMED)
        return [*runs, *(one.name for each in variants for one in each)]

    def _run(self, name: str, written: RunWritten) -> Run | None:
        keys: Keys = ("runs", name)
        found = self._source(written.scenario, (*keys, "scenario"))
        before = len(errors_of(self.draft.findings))
        values = None if found is None else found[0].values
        matrix = matrix_of(self.draft, keys, written, values)
        if found is None:
            return None
        source, scenario = found
        places = _places(self.document.places, keys, matrix, self.document.origin(keys))
        varying = Varying(source, matrix, places, scenario.source_files)
        self.draft.findings += varying.faults(scenario)
        if len(errors_of(self.draft.findings)) > before:
            return None
        return Run(name, varying, written.repeats or repeats_of(scenario))

    def _source(self, name: str, keys: Keys) -> tuple[Source, Scenario] | None:
        """A scenario file, read once however many runs name it."""
        if name not in self.sources:
            asked = self.document.origin(keys)
            self.sources[name] = None
            try:
                source = source_of(self.folder / name, asked)
                scenario = source.scenario()
                rules_of(scenario)  # their faults are told before anything is planned
                self.sources[name] = (source, scenario)
                self.files += scenario.source_files
            except ChoreoError as error:
                self.draft.findings += named_at(asked, error.findings)
        return self.sources[name]


def without_parts(data: dict[str, Any], error: ValidationError) -> dict[str, Any]:
    """A file's data without those parts that have faults and that the rest doesn't lean on.

    Of a run that is how often it is driven, of the day each key; with its hours go the pauses.
    """
    rest = deepcopy(data)
    for one in error.errors(include_url=False, include_context=False, include_input=False):
        match one["loc"]:
            case ("runs", name, "repeats", *_):
                rest["runs"][name].pop("repeats", None)
            case ("day", key, *_) if isinstance(rest.get("day"), dict):
                hours = ("from", "to", "pauses")
                for gone in hours if key in hours[:2] else (key,):
                    rest["day"].pop(gone, None)
    return rest


def _faults_of_values(varying: Varying) -> list[Finding]:
    """The values that make no scenario whatever the others are, each told where it is written.

    What only comes of some values together is told in the rows of their variants. Of long lists some values are
    looked at, both ends among them.
    """
    faults: list[Finding] = []
    for alone in varying.matrix.alone():
        values = alone[:: max(1, -(-len(alone) // MOST_LOOKED_AT))]
        for one in values if alone[-1:] == values[-1:] else [*values, alone[-1]]:
            faults += varying.impossible(one, _faults_of(varying, one))
    return faults


def _faults_of(varying: Varying, values: Mapping[str, str]) -> tuple[Finding, ...]:
    """What values bring with all else as the scenario's file says, where they bring faults in each variant too."""
    alone = _made(varying, values)
    if not alone:
        return ()
    variants = list(varying.matrix.having(values).combinations())
    found: tuple[Finding, ...] = ()
    for one in variants[:: max(1, -(-len(variants) // MOST_LOOKED_AT))]:
        found = _made(varying, one)
        if not found:
            return ()
    # Of what the variants bring, what these values bring alone says more plainly.
    return alone if {one.code for one in alone} <= {one.code for one in found} else found


def _made(varying: Varying, values: Mapping[str, str]) -> tuple[Finding, ...]:
    try:
        varying.scenario(values)
    except ChoreoError as error:
        return errors_of(error.findings)
    return ()


def _places(
    written: Mapping[Keys, Origin], keys: Keys, matrix: Matrix, otherwise: Origin
) -> dict[tuple[str, str], Origin]:
    """Where each varied name, and each of its values, is written."""
    found: dict[tuple[str, str], Origin] = {}
    for section, lists in (("vary", matrix.vary), ("together", matrix.together)):
        for name, values in lists.items():
            at = (*keys, section, name)
            place = written.get(at, otherwise)
            found[name, ""] = place
            # Steps stand for several values; then the list's own place is near enough.
            alone = written.get((*at, len(values))) is None and (*at, len(values) - 1) in written
            for index, value in enumerate(values):
                found[name, value] = written.get((*at, index), place) if alone else place
    return found
