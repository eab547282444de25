"""What a rule set finds in a plan: who isn't steady at the start of test, what stands in the room to be free."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path
from choreo.plans.record import MoverPlan, Plan
from choreo.rules.applied import Rules, rules_of
from choreo.rules.asked import T0, band_of, from_start_of_test
from choreo.rules.cast import Cast
from choreo.rules.numbers import told
from choreo.rules.records import Condition
from choreo.scenario import Contact, Scenario
from choreo.words import Finding

Floats = NDArray[np.float64]
# Speeds that change by less are held (m/s2); times nearer than this (s) are the same.
HELD_MPS2 = 1e-6
SAME_S = 1e-6
# A test that lasts no longer than this (s) is none: a sample of 100 Hz, as protocols want it.
LEFT_S = 0.01
# The way is looked at this often (m).
STEP_M = 0.5


def findings_of_plan(
    scenario: Scenario, paths: Mapping[str, Path], plan: Plan, obstacles: Sequence[Floats]
) -> tuple[Finding, ...]:
    """Hold a feasible plan against the rules of its scenario. obstacles: corners in the site frame, shape (k, 2)."""
    rules = rules_of(scenario)
    if rules is None:
        return ()
    return (
        *_late(rules, plan),
        *_steady(rules.cast, plan),
        *_free(rules.cast, paths, plan, obstacles),
    )


def _late(rules: Rules, plan: Plan) -> Iterator[Finding]:
    """A start of test that leaves no time before the encounter."""
    t0, contact = plan.instants.get(T0), rules.cast.contact()
    if t0 is None or contact is None or contact[0] not in plan.encounters:
        return
    met_s = plan.encounters[contact[0]].time_s
    if t0.time_s < met_s - LEFT_S:
        return
    values = {
        "t0": f"{t0.time_s:.3f} s",
        "encounter": contact[0],
        "met": f"{met_s:.3f} s",
        "name": contact[1].with_,
        "clause": rules.set.named,
    }
    place = rules.cast.scenario.origin("rules")
    yield Finding("rules.late-start-of-test", "warning", place, values)


def _steady(cast: Cast, plan: Plan) -> Iterator[Finding]:
    """Movers whose speed counts from the start of test on have it by then."""
    t0 = plan.instants.get(T0)
    if t0 is None:
        return
    end_s = _end_s(cast, plan)
    for role, name in cast.movers.items():
        band = band_of(cast, role, "speed")
        if band is None or not from_start_of_test(cast.family, band):
            continue
        late = _still_changing(plan.movers[name], t0.time_s, end_s[name])
        if late is None:
            continue
        values = {
            "name": name,
            "until": f"{late:.3f} s",
            "t0": f"{t0.time_s:.3f} s",
            "clause": band.source.words,
        }
        place = cast.scenario.origin("movers", name)
        yield Finding("rules.not-steady", "warning", place, values)


def _end_s(cast: Cast, plan: Plan) -> dict[str, float]:
    """Until when a mover's speed counts: its first encounter, of a lead that brakes the beginning of that."""
    ends = dict.fromkeys(cast.scenario.movers, math.inf)
    for name, one in cast.scenario.encounters.items():
        if isinstance(one, Contact) and name in plan.encounters:
            for mover in (one.of, one.with_):
                ends[mover] = min(ends[mover], plan.encounters[name].time_s)
    lead = cast.lead()
    if lead is not None:
        starts = [p.start_s for p in plan.movers[lead[0]].pieces if p.phase == lead[1].name]
        ends[lead[0]] = min([ends[lead[0]], *starts])
    return ends


def _still_changing(mover: MoverPlan, t0_s: float, end_s: float) -> float | None:
    """Until when the ramp goes on in which a mover is at the start of test, in s; None: it is steady then."""
    late = None
    for piece in mover.pieces:
        ends_s = piece.start_s + piece.duration_s
        changes = abs(piece.accel_mps2) > HELD_MPS2 or abs(piece.jerk_mps3) > HELD_MPS2
        if changes and ends_s > t0_s + SAME_S and piece.start_s < end_s - SAME_S:
            late = min(ends_s, end_s)
    return late


def _free(
    cast: Cast, paths: Mapping[str, Path], plan: Plan, obstacles: Sequence[Floats]
) -> Iterator[Finding]:
    """Obstacles of the site beside the subject's way from the start of test to the encounter."""
    rule = next((r for r in cast.family.of(Condition) if r.quantity == "free to the sides"), None)
    name = cast.movers.get("subject")
    if rule is None or rule.lower is None or name is None or name not in paths:
        return
    t0, contact = plan.instants.get(T0), cast.contact()
    if t0 is None or contact is None or contact[0] not in plan.encounters:
        return
    starts_m = t0.movers[name].station_m
    ends_m = _station(plan.movers[name], plan.encounters[contact[0]].time_s)
    stations = np.linspace(starts_m, ends_m, max(2, math.ceil(abs(ends_m - starts_m) / STEP_M)))
    way = paths[name].pose(stations)
    points = np.column_stack([way.x_m, way.y_m])
    nearest_m = min((_apart_m(points, corners) for corners in obstacles), default=math.inf)
    if nearest_m >= rule.lower:
        return
    values = {
        "what": "an obstacle of the site",
        "value": told(nearest_m, "m"),
        "name": name,
        "bound": told(rule.lower, "m"),
        "clause": rule.source.words,
    }
    place = cast.scenario.origin("movers", name)
    yield Finding("rules.surroundings", "warning", place, values)


def _station(mover: MoverPlan, time_s: float) -> float:
    """Where a mover is by plan, as a station in m."""
    for piece in reversed(mover.pieces):
        if piece.start_s <= time_s:
            u = min(time_s - piece.start_s, piece.duration_s)
            gained = piece.speed_mps * u + piece.accel_mps2 * u**2 / 2 + piece.jerk_mps3 * u**3 / 6
            return piece.station_m + gained
    return mover.start.station_m


def _apart_m(points: Floats, corners: Floats) -> float:
    """The least distance of points, shape (n, 2), from the edges of a polygon, shape (k, 2), in m."""
    begins, ends = corners, np.roll(corners, -1, axis=0)
    along = ends - begins
    length2 = np.maximum((along**2).sum(axis=1), 1e-12)
    offset = points[:, None, :] - begins[None, :, :]
    share = np.clip((offset * along[None]).sum(axis=2) / length2[None], 0.0, 1.0)
    gaps = offset - share[..., None] * along[None]
    return float(np.sqrt((gaps**2).sum(axis=2).min()))
