"""Scenario files: text with places -> file models -> checked records in SI.

Read it in this order, which is the data's way:

    records/    what a scenario is, in SI and in the author's words; edits make neighbours of one
    text/       YAML (and GeoJSON) -> plain data, with file, line and column of every value
    written/    file models: which keys there are, which units; they make the JSON Schema and the first faults
    making/     file models -> records, section by section; a Draft holds names and faults on the way
    checks/     faults that only the whole scenario shows
    loading.py  puts these together: a file with its site and fleet files -> a Scenario, or all its faults
"""

from choreo.scenario.loading import load, loads
from choreo.scenario.making.site import load_site
from choreo.scenario.records.placed import moved_to
from choreo.scenario.records.safety import Safety
from choreo.scenario.records.scenario import (
    Body,
    Contact,
    Encounter,
    ErrorSource,
    Event,
    Extreme,
    Gap,
    Instant,
    Limits,
    Mover,
    Pass,
    PathSpec,
    Phase,
    Piece,
    Return,
    Scenario,
    Span,
    Spread,
    Start,
    Tolerances,
    Trigger,
)
from choreo.scenario.records.sights import Sight
from choreo.scenario.records.site import (
    AnchorSpec,
    AreaSpec,
    EarthPolygon,
    ObstacleSpec,
    Ring,
    SiteSpec,
    SlopeSpec,
)
from choreo.scenario.written.schema import json_schema

__all__ = [
    "AnchorSpec",
    "AreaSpec",
    "Body",
    "Contact",
    "EarthPolygon",
    "Encounter",
    "ErrorSource",
    "Event",
    "Extreme",
    "Gap",
    "Instant",
    "Limits",
    "Mover",
    "ObstacleSpec",
    "Pass",
    "PathSpec",
    "Phase",
    "Piece",
    "Return",
    "Ring",
    "Safety",
    "Scenario",
    "Sight",
    "SiteSpec",
    "SlopeSpec",
    "Span",
    "Spread",
    "Start",
    "Tolerances",
    "Trigger",
    "json_schema",
    "load",
    "load_site",
    "loads",
    "moved_to",
]
