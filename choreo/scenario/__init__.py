"""Scenario files: text with places -> file models -> checked records in SI."""

from choreo.scenario.load import load, loads
from choreo.scenario.measured import Measured, load_measured
from choreo.scenario.placed import moved_to
from choreo.scenario.records import (
    Body,
    Contact,
    Encounter,
    Event,
    Gap,
    Instant,
    Limits,
    Mover,
    Pass,
    PathSpec,
    Phase,
    Piece,
    Scenario,
    Span,
    Start,
    Trigger,
)
from choreo.scenario.safety_records import Safety
from choreo.scenario.schema import json_schema
from choreo.scenario.sight_records import Sight
from choreo.scenario.site import load_site
from choreo.scenario.site_records import (
    AnchorSpec,
    AreaSpec,
    EarthPolygon,
    ObstacleSpec,
    Ring,
    SiteSpec,
    SlopeSpec,
)

__all__ = [
    "AnchorSpec",
    "AreaSpec",
    "Body",
    "Contact",
    "EarthPolygon",
    "Encounter",
    "Event",
    "Gap",
    "Instant",
    "Limits",
    "Measured",
    "Mover",
    "ObstacleSpec",
    "Pass",
    "PathSpec",
    "Phase",
    "Piece",
    "Ring",
    "Safety",
    "Scenario",
    "Sight",
    "SiteSpec",
    "SlopeSpec",
    "Span",
    "Start",
    "Trigger",
    "json_schema",
    "load",
    "load_measured",
    "load_site",
    "loads",
    "moved_to",
]
