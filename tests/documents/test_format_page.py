"""The page on the format against the models: every key in its table, every default as the code has it."""

import re
from collections.abc import Iterator
from typing import Any

import pytest

from choreo.campaigns.written import CampaignWritten
from choreo.circuits.written import CircuitFileWritten
from choreo.errors.sources import DEFAULTS, ON_A_BELT
from choreo.guide.pages import page_of
from choreo.rules.written import RulesWritten
from choreo.scenario import json_schema
from choreo.scenario.records.safety import Safety
from choreo.scenario.records.sights import WITHIN_M
from choreo.scenario.written import scenario as w
from choreo.scenario.written.courses import CourseKeysWritten
from choreo.scenario.written.site import SiteWritten
from choreo.sharing.written import ShareWritten
from choreo.words.kinds import ErrorKind
from choreo.words.tolerances import CONTACT_TOLERANCE_M, GAP_TOLERANCE_M, GAP_TOLERANCE_S
from choreo.words.units import KINDS

PAGE = page_of("format").text

# The heading whose table has the keys of a model.
HEADINGS = {
    "FileWritten": "The top of the file",
    "PathWritten": "Paths",
    "CourseKeysWritten": "Sizes of a course",
    "PieceWritten": "Pieces",
    "ArcWritten": "Arc",
    "ClothoidWritten": "Clothoid",
    "BendWritten": "Bend",
    "ShiftWritten": "Shift",
    "MoverWritten": "Movers",
    "StandWritten": "Stand",
    "TurnsWritten": "Turns",
    "BodyWritten": "Body",
    "LimitsWritten": "Limits",
    "UsualWritten": "Usual",
    "LaunchWritten": "Launch",
    "FailsafeWritten": "Failsafe",
    "StartWritten": "Start",
    "PhaseWritten": "Programmes",
    "WaitWritten": "Wait",
    "RampWritten": "Ramp",
    "HoldWritten": "Hold",
    "ReturnWritten": "Return",
    "FollowWritten": "Follow",
    "DriveWritten": "Drive",
    "StopWritten": "Stop",
    "TriggerWritten": "Triggers",
    "WhenWritten": "When",
    "ContactWritten": "Contact",
    "GapWritten": "Gap",
    "PassWritten": "Pass",
    "InstantWritten": "Instants",
    "SightWritten": "Sight lines",
    "SafetyWritten": "Safety",
    "RulesNamedWritten": "Rules",
    "PlacedWritten": "Placed",
    "SiteWritten": "Site files",
    "AreaWritten": "Areas",
    "SlopeWritten": "Slope",
    "ObstacleWritten": "Obstacles",
    "AnchorWritten": "Anchor",
    "FleetWritten": "Fleet files",
    "ErrorsWritten": "Errors",
    "SpeedWanderWritten": "Speed wander",
    "StartMarkWritten": "Start mark",
    "PathErrorWritten": "Path error",
    "PathWanderWritten": "Path wander",
    "TolerancesWritten": "Tolerances",
    "FleetEntryWritten": "Fleet entries",
    "RulesWritten": "Rule sets",
    "FilterWritten": "Filter",
    "WindowWritten": "Window",
    "BandWritten": "Band",
    "InstantRuleWritten": "Instant rule",
    "SettleWritten": "Settle rule",
    "ShapeWritten": "Shape",
    "BetweenRunsWritten": "Rule between runs",
    "ConditionWritten": "Condition",
    "CampaignRuleWritten": "Repeats",
    "OnsetWritten": "Onset",
    "FamilyWritten": "Family",
    "GridWritten": "Grid",
    "ImpactSpeedsWritten": "Impact speeds",
    "CampaignWritten": "Campaigns",
    "RunWritten": "Runs",
    "DayWritten": "The day",
    "WayBackWritten": "Way back",
    "UpkeepWritten": "Between runs",
    "CircuitFileWritten": "Circuits",
    "CircuitWritten": "Laps",
    "ExcursionWritten": "Excursions",
    "PauseWritten": "Stops on the way",
    "RoughWritten": "Surfaces",
    "TemperatureWritten": "Temperature",
    "ShareWritten": "Shared tracks",
    "HeadwayWritten": "Headway",
    "VehicleWritten": "Vehicles",
    "VisitWritten": "Visits",
}


def models() -> dict[str, dict[str, Any]]:
    """Give the JSON Schema of every model of scenario, site, fleet and campaign files by its name."""
    found: dict[str, dict[str, Any]] = {"FileWritten": json_schema()}
    for schema in (
        json_schema(),
        SiteWritten.model_json_schema(by_alias=True),
        w.FleetWritten.model_json_schema(by_alias=True),
        CampaignWritten.model_json_schema(by_alias=True),
        CircuitFileWritten.model_json_schema(by_alias=True),
        RulesWritten.model_json_schema(by_alias=True),
        ShareWritten.model_json_schema(by_alias=True),
    ):
        found |= {name: one for name, one in schema["$defs"].items() if "properties" in one}
    # What lays a course out stands in a table of its own.
    keys = {one.alias or name for name, one in CourseKeysWritten.model_fields.items()}
    whole = found["PathWritten"]["properties"]
    for model, of_course in (("CourseKeysWritten", True), ("PathWritten", False)):
        properties = {key: one for key, one in whole.items() if (key in keys) is of_course}
        found[model] = found["PathWritten"] | {"properties": properties}
    found["SiteWritten"] = SiteWritten.model_json_schema(by_alias=True)
    found["ShareWritten"] = ShareWritten.model_json_schema(by_alias=True)
    found["CircuitFileWritten"] = CircuitFileWritten.model_json_schema(by_alias=True)
    found["CampaignWritten"] = CampaignWritten.model_json_schema(by_alias=True)
    found["RulesWritten"] = RulesWritten.model_json_schema(by_alias=True)
    found["FleetWritten"] = w.FleetWritten.model_json_schema(by_alias=True)
    return found


MODELS = models()


def tables() -> dict[str, dict[str, list[str]]]:
    """Give the cells of every table whose first column is `key`, by heading and key."""
    found: dict[str, dict[str, list[str]]] = {}
    for heading, rows in _sections():
        if rows and rows[0][0] == "key":
            found[heading] = {row[0].strip("`"): row[1:] for row in rows[2:]}
    return found


def _sections() -> Iterator[tuple[str, list[list[str]]]]:
    for part in re.split(r"^#+ ", PAGE, flags=re.MULTILINE)[1:]:
        heading, _, text = part.partition("\n")
        lines = [line for line in text.splitlines() if line.startswith("|")]
        yield heading, [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines]


TABLES = tables()


def test_every_model_has_a_table() -> None:
    assert set(HEADINGS) == set(MODELS)
    assert set(HEADINGS.values()) == set(TABLES)


@pytest.mark.parametrize("model", HEADINGS)
def test_table_has_every_key_of_the_model_and_no_other(model: str) -> None:
    assert set(TABLES[HEADINGS[model]]) == set(MODELS[model]["properties"])


@pytest.mark.parametrize("model", HEADINGS)
def test_keys_that_are_needed_are_told_so_and_no_others(model: str) -> None:
    required = set(MODELS[model].get("required", ()))
    told = {key for key, cells in TABLES[HEADINGS[model]].items() if cells[-1] == "needed"}
    assert told == required


def usual(kind: ErrorKind, scale: float, unit: str) -> str:
    """What is taken for an error that nobody wrote, of a car and of a pedestrian."""
    spread, on_a_belt = DEFAULTS[kind], ON_A_BELT[kind]
    assert spread is not None
    assert on_a_belt is not None
    return f"{spread.size * scale:g} {unit}; of a pedestrian {on_a_belt.size * scale:g} {unit}"


@pytest.mark.parametrize(
    ("heading", "key", "told"),
    [
        ("Contact", "tolerance", f"{CONTACT_TOLERANCE_M:g} m"),
        ("Gap", "tolerance", f"{GAP_TOLERANCE_M:.2f} m or {GAP_TOLERANCE_S:g} s"),
        ("Pass", "tolerance", f"{GAP_TOLERANCE_M:.2f} m or {GAP_TOLERANCE_S:g} s"),
        ("Safety", "clearance", f"{Safety().clearance_m:g} m"),
        ("Safety", "abort margin", f"{Safety().abort_margin_m:g} m"),
        ("Safety", "keep out", f"{Safety().keep_out_m:g} m"),
        ("Safety", "path error", f"{Safety().path_error_m:g} m"),
        ("Safety", "position error", f"{Safety().position_error_m:g} m"),
        ("Sight lines", "within", f"{WITHIN_M:g} m"),
        ("Sight lines", "share", f"{w.SightWritten.model_fields['share'].default * 100:g} %"),
        ("Sight lines", "from", f"`{w.SightWritten.model_fields['from_'].default}`"),
        ("Triggers", "sampling", f"{w.TriggerWritten.model_fields['sampling'].default:g} Hz"),
        (
            "Triggers",
            "latency",
            f"{w.TriggerWritten.model_fields['latency'].default.planned_s:g} s",
        ),
        ("Failsafe", "reaction", f"{w.FailsafeWritten.model_fields['reaction'].default:g} s"),
        ("Contact", "point", f"`{w.ContactWritten.model_fields['point'].default}`"),
        ("Pass", "between", f"`{w.PassWritten.model_fields['between'].default}`"),
        ("Errors", "speed held", usual("speed held", 3.6, "km/h")),
        ("Errors", "position", usual("position", 1, "m")),
        ("Errors", "achieved acceleration", usual("achieved acceleration", 100, "%")),
        ("Errors", "achieved braking", usual("achieved braking", 100, "%")),
        ("Errors", "launch", f"{DEFAULTS['launch'].size * 1000:g} ms"),
        ("Start mark", "along", usual("start along", 1, "m")),
        ("Path error", "offset", usual("path offset", 1, "m")),
        ("The top of the file", "prefer", f"`{w.FileWritten.model_fields['prefer'].default}`"),
    ],
)
def test_default_is_told_as_the_code_has_it(heading: str, key: str, told: str) -> None:
    assert TABLES[heading][key][1] == told


def test_every_unit_is_told() -> None:
    shown = "".join(line for line in PAGE.splitlines() if line.startswith("| "))
    used = {unit for kind in KINDS.values() for unit in kind.units if kind.name != "curvature"}
    assert [unit for unit in sorted(used) if f"`{unit}`" not in shown] == []
