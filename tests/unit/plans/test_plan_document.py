"""The keys of plan documents: what the first version had stays, and documents saved then can still be read."""

from collections.abc import Iterator
from dataclasses import MISSING, fields, is_dataclass
from typing import Any, get_args, get_type_hints

import pytest

from choreo.plans.record import Plan

FIRST = {
    "Plan": "format verdict title prefer fingerprint movers triggers encounters instants",
    "MoverPlan": "start launch_s launched_by events pieces runway peak",
    "StartMark": "station_m x_m y_m heading_deg speed_mps",
    "PhasePlan": "name kind",
    "PlanEvent": "name time_s station_m x_m y_m speed_mps",
    "Piece": "phase start_s duration_s station_m speed_mps accel_mps2 jerk_mps3",
    "Runway": "run_up_m encounter_m run_out_m total_m",
    "Peak": "accel_mps2 brake_mps2 jerk_mps3 lateral_mps2 speed_mps",
    "TriggerPlan": (
        "watch condition setting setting_unit station_m time_s latency_s sampling_hz acts_at_s acts_on"
    ),
    "EncounterPlan": (
        "kind measure of with_ time_s wanted predicted unit tolerance within station_of_m station_with_m closing_mps"
    ),
    "InstantPlan": "time_s movers gaps_m times_to_collision_s",
    "InstantState": "station_m speed_mps x_m y_m",
    "Budget": "title mover unit available pieces short_by",
    "BudgetLine": "what value place",
    "Conflict": "name amount unit place",
    "Message": "code severity text advice place",
    "VerificationSummary": "method worst_encounter_error worst_limit_use agrees",
    "SpacePlan": "clear settings clearances stops no_return keep_out",
    "SafetySettings": "clearance_m abort_margin_m keep_out_m path_error_m position_error_m",
    "PairClearance": "a b least_m time_s x_m y_m",
    "FailsafeStop": ("brake_mps2 reaction_s assumed longest_m longest_at_s beyond_m farthest_m"),
    "NoReturn": "encounter who state margin_m time_s before_s",
    "KeepOut": "margin_m error_m area_m2 swept_m2 polygons",
    "SiteFit": "site margin_m x_m y_m edge outside_m2",
    "SurfaceUse": "friction uphill_ratio downhill_ratio accelerate_mps2 brake_mps2 lateral_mps2",
    "SightPlan": "name from_ to share first_s to_collision_s stays",
}


def records_in(hint: Any) -> Iterator[type]:
    """The records of which a plan is made, from the outside in."""
    if is_dataclass(hint) and isinstance(hint, type):
        yield hint
        for inner in get_type_hints(hint).values():
            yield from records_in(inner)
    for part in get_args(hint):
        yield from records_in(part)


RECORDS = {record.__name__: record for record in records_in(Plan)}


@pytest.mark.parametrize("name", FIRST)
def test_keys_of_the_first_version_stay_and_no_other_is_needed(name: str) -> None:
    needed = {
        one.name
        for one in fields(RECORDS[name])
        if one.default is MISSING and one.default_factory is MISSING
    }
    assert needed == set(FIRST[name].split())
