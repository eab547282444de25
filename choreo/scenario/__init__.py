"""Scenario files: text with places -> file models -> checked records in SI."""

from choreo.scenario.load import load, loads
from choreo.scenario.measured import Measured, load_measured
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
from choreo.scenario.schema import json_schema

__all__ = [
    "Body",
    "Contact",
    "Encounter",
    "Event",
    "Gap",
    "Instant",
    "Limits",
    "Measured",
    "Mover",
    "Pass",
    "PathSpec",
    "Phase",
    "Piece",
    "Scenario",
    "Span",
    "Start",
    "Trigger",
    "json_schema",
    "load",
    "load_measured",
    "loads",
]
