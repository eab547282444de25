"""Scenarios and plans written by hand, whose truth is known in closed form, for testing the
verifier.

Everything is rectilinear and piecewise constant in acceleration unless a test bends it on
purpose. The plan's stations are summed here with the textbook cubics, apart from the verifier's
quadrature.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from choreo.plans.record import (
    PLAN_FORMAT,
    EncounterPlan,
    MoverPlan,
    Peak,
    Piece,
    Plan,
    Runway,
    StartMark,
    TriggerPlan,
)
from choreo.scenario.records.scenario import (
    Body,
    Contact,
    Event,
    Gap,
    Limits,
    Mover,
    Pass,
    Phase,
    Scenario,
    Span,
    Start,
    Trigger,
)
from choreo.verification import Verification, verify
from tests.unit.verification.paths_by_hand import Circle, Straight

KMH = 1 / 3.6
INF = math.inf
CONTACT = Event("encounter", "contact")

Command = tuple[str, float, float, float]


def exactly(value: float) -> Span:
    """A given value as a span."""
    return Span(value, value)


def body(length_m: float, width_m: float, front_m: float) -> Body:
    """A rectangle."""
    rear, half = length_m - front_m, width_m / 2
    corners = ((front_m, half), (-rear, half), (-rear, -half), (front_m, -half))
    return Body(corners, length_m, width_m, front_m, rear)


CAR = body(4.3, 1.8, 3.4)
LIMITS = Limits(130 * KMH, ((0.0, 3.0),), 6.0)
WALKER_LIMITS = Limits(10 * KMH, ((0.0, 2.0),), 2.0)


def mover(programme: tuple[Phase, ...], **changes: object) -> Mover:
    """A car with plain limits on a path called as its mover."""
    values: dict[str, object] = {
        "kind": "vehicle",
        "path": "lane",
        "stand": None,
        "body": CAR,
        "limits": LIMITS,
        "start": Start(),
        "programme": programme,
    }
    return Mover(**(values | changes))  # type: ignore[arg-type]


def ramp(to_mps: float, **changes: object) -> Phase:
    """A ramp to a speed."""
    return Phase("ramp", "ramp", to=exactly(to_mps), **changes)  # type: ignore[arg-type]


def hold(**changes: object) -> Phase:
    """A hold."""
    return Phase("hold", "hold", **changes)  # type: ignore[arg-type]


def stop(brake_mps2: float | None = None) -> Phase:
    """A stop."""
    return Phase("stop", "stop", brake_mps2=brake_mps2)


def wait(trigger: str) -> Phase:
    """A wait for a trigger."""
    return Phase("wait", "wait", for_trigger=trigger)


@dataclass(frozen=True)
class Case:
    """A scenario, its paths and a plan that a test may damage."""

    scenario: Scenario
    paths: dict[str, Straight | Circle]
    plan: Plan

    def verify(self) -> Verification:
        return verify(self.scenario, self.paths, self.plan)  # type: ignore[arg-type]

    def with_mover(self, name: str, **changes: object) -> Case:
        """Change a mover of the scenario."""
        movers = dict(self.scenario.movers)
        movers[name] = replace(movers[name], **changes)  # type: ignore[arg-type]
        return replace(self, scenario=replace(self.scenario, movers=movers))

    def with_limits(self, name: str, **changes: object) -> Case:
        """Change a mover's limits."""
        limits = replace(self.scenario.movers[name].limits, **changes)  # type: ignore[arg-type]
        return self.with_mover(name, limits=limits)

    def with_phase(self, name: str, index: int, **changes: object) -> Case:
        """Change one phase of a mover's programme."""
        programme = list(self.scenario.movers[name].programme)
        programme[index] = replace(programme[index], **changes)  # type: ignore[arg-type]
        return self.with_mover(name, programme=tuple(programme))

    def with_plan(self, name: str, **changes: object) -> Case:
        """Damage a mover of the plan."""
        movers = dict(self.plan.movers)
        movers[name] = replace(movers[name], **changes)  # type: ignore[arg-type]
        return replace(self, plan=replace(self.plan, movers=movers))

    def with_piece(self, name: str, index: int, **changes: float) -> Case:
        """Damage one piece of a mover's motion."""
        pieces = list(self.plan.movers[name].pieces)
        pieces[index] = replace(pieces[index], **changes)  # type: ignore[arg-type]
        return self.with_plan(name, pieces=tuple(pieces))

    def with_path(self, name: str, path: Straight | Circle) -> Case:
        """Exchange a mover's path; marks in the plan stay."""
        return replace(self, paths={**self.paths, name: path})

    def with_trigger_plan(self, name: str, **changes: object) -> Case:
        """Damage a trigger of the plan."""
        triggers = dict(self.plan.triggers)
        triggers[name] = replace(triggers[name], **changes)  # type: ignore[arg-type]
        return replace(self, plan=replace(self.plan, triggers=triggers))

    def with_third(self, name: str, third: Mover, path: Straight, planned: MoverPlan) -> Case:
        """Add another mover."""
        return Case(
            replace(self.scenario, movers={**self.scenario.movers, name: third}),
            {**self.paths, name: path},
            replace(self.plan, movers={**self.plan.movers, name: planned}),
        )


def motion(
    path: Straight | Circle,
    start_m: float,
    launch_s: float,
    commands: list[Command],
    start_mps: float = 0.0,
    launched_by: str = "go",
    ended_by: dict[str, str] | None = None,
) -> MoverPlan:
    """A mover's plan from commands (phase, duration s, acceleration m/s2, jerk m/s3)."""
    pieces, time, station, speed = [], launch_s, start_m, start_mps
    for phase, d, a, j in commands:
        pieces.append(Piece(phase, time, d, station, speed, a, j))
        station += speed * d + a * d**2 / 2 + j * d**3 / 6
        speed += a * d + j * d**2 / 2
        time += d
    pose = path.pose(np.array([start_m]))
    mark = StartMark(
        start_m,
        float(pose.x_m[0]),
        float(pose.y_m[0]),
        math.degrees(pose.heading_rad[0]),
        start_mps,
    )
    total = station - start_m
    huge = Peak(99.0, 99.0, 99.0, 99.0, 99.0)
    return MoverPlan(
        mark,
        launch_s,
        launched_by,
        (),
        tuple(pieces),
        Runway(total, 0.0, 0.0, total),
        huge,
        ended_by or {},
    )


def met(
    kind: str, of: str, with_: str, time_s: float, stations: tuple[float, float]
) -> EncounterPlan:
    """An encounter as a plan tells it; the verifier compares time and stations only."""
    return EncounterPlan(
        kind, "any", of, with_, time_s, (0.0, 0.0), 0.0, "m", 0.05, True, *stations, 0.0
    )


def scenario_of(movers: dict[str, Mover], **parts: object) -> Scenario:
    """A scenario without text."""
    values: dict[str, object] = {
        "title": "by hand",
        "about": "",
        "prefer": "shortest runway",
        "paths": {},
        "movers": movers,
        "triggers": {},
        "encounters": {},
        "instants": {},
    }
    return Scenario(**(values | parts))  # type: ignore[arg-type]


def plan_of(movers: dict[str, MoverPlan], **parts: object) -> Plan:
    """A plan without verdict."""
    values: dict[str, object] = {
        "format": PLAN_FORMAT,
        "verdict": "undecided",
        "title": "by hand",
        "prefer": "shortest runway",
        "fingerprint": "",
        "movers": movers,
        "triggers": {},
        "encounters": {},
        "instants": {},
    }
    return Plan(**(values | parts))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Crossing:
    """C18 (facts.md; FM127 S8.3.1, S8.3.4, SEEN): an adult from the right walks 4.0 m, 5 km/h
    reached in 1.5 m at constant acceleration, 50 % impact, subject at 60 km/h. Latency 60 ms,
    100 Hz invented.
    """

    speed_mps: float = 60 * KMH
    walk_mps: float = 5 * KMH
    latency_s: float = 0.06
    subject_start_m: float = 20.0
    walk_m: float = 4.0
    ramp_rate: float = field(default=3.0)

    def case(self) -> Case:
        v, a, w = self.speed_mps, self.ramp_rate, self.walk_mps
        walk_a = w**2 / (2 * 1.5)
        walking_s = w / walk_a + (self.walk_m - 1.5) / w
        contact_m = 300.0 - 0.25 - CAR.front_m
        ramp_s, ramp_m = v / a, v**2 / (2 * a)
        contact_s = ramp_s + (contact_m - self.subject_start_m - ramp_m) / v
        launch_s = contact_s - walking_s
        crossing_s = launch_s - self.latency_s - 0.005
        lane, across = Straight(length_m=400.0), Straight(300.0, -4.0, math.pi / 2, 9.0)
        subject = mover((ramp(v), hold(settle_s=2.0, until=CONTACT), stop(5.0)))
        walker = mover(
            (wait("step_out"), ramp(w, within_m=1.5), hold(until=CONTACT), stop(2.0)),
            kind="pedestrian",
            path="crossing",
            body=body(0.5, 0.5, 0.25),
            limits=WALKER_LIMITS,
            start=Start(exactly(0.0)),
        )
        planned = {
            "subject": motion(
                lane,
                self.subject_start_m,
                0.0,
                [
                    ("ramp", ramp_s, a, 0.0),
                    ("hold", contact_s - ramp_s, 0.0, 0.0),
                    ("stop", v / 5.0, -5.0, 0.0),
                ],
            ),
            "walker": motion(
                across,
                0.0,
                launch_s,
                [
                    ("ramp", w / walk_a, walk_a, 0.0),
                    ("hold", (self.walk_m - 1.5) / w, 0.0, 0.0),
                    ("stop", w / 2.0, -2.0, 0.0),
                ],
                launched_by="step_out",
            ),
        }
        trigger = Trigger(
            "subject",
            "time to collision",
            Span(-INF, INF),
            "contact",
            self.latency_s,
            100.0,
            None,
            ("walker",),
        )
        set_to = TriggerPlan(
            "subject",
            "time to collision",
            contact_s - crossing_s,
            "s",
            contact_m - v * (contact_s - crossing_s),
            crossing_s,
            self.latency_s,
            100.0,
            launch_s,
            ("walker",),
            "contact",
        )
        contact = Contact("subject", "walker", "front", self.walk_m - 4.0, None, "reference", 0.05)
        return Case(
            scenario_of(
                {"subject": subject, "walker": walker},
                triggers={"step_out": trigger},
                encounters={"contact": contact},
            ),
            {"subject": lane, "walker": across},
            plan_of(
                planned,
                triggers={"step_out": set_to},
                encounters={
                    "contact": met(
                        "contact", "subject", "walker", contact_s, (contact_m, self.walk_m)
                    )
                },
            ),
        )


def standing_target(speed_mps: float = 40 * KMH) -> Case:
    """A subject that drives straight into a standing target 300 m down the lane. Figures
    invented.
    """
    lane, spot = Straight(length_m=400.0), Straight(300.0, 0.0, 0.0, 1.0)
    contact_m = 300.0 - 2.0 - CAR.front_m
    v, a = speed_mps, 3.0
    contact_s = v / a + (contact_m - 100.0 - v**2 / (2 * a)) / v
    planned = {
        "subject": motion(
            lane,
            100.0,
            0.0,
            [
                ("ramp", v / a, a, 0.0),
                ("hold", contact_s - v / a, 0.0, 0.0),
                ("stop", v / 5.0, -5.0, 0.0),
            ],
        ),
        "target": motion(spot, 0.0, 0.0, []),
    }
    movers = {
        "subject": mover((ramp(v), hold(settle_s=2.0, until=CONTACT), stop(5.0))),
        "target": mover((), path=None, stand=(300.0, 0.0, 0.0), body=body(4.0, 1.8, 2.0)),
    }
    contact = Contact("subject", "target", "front", 0.0, 0.5, "reference", 0.05)
    told = met("contact", "subject", "target", contact_s, (contact_m, 0.0))
    return Case(
        scenario_of(movers, encounters={"contact": contact}),
        {"subject": lane, "target": spot},
        plan_of(planned, encounters={"contact": told}),
    )


def braking_lead(
    gap_m: float,
    brake_mps2: float,
    after_s: float,
    speed_mps: float = 50 * KMH,
    *,
    by_trigger: bool = False,
) -> Case:
    """Two cars at one speed, gap_m apart; the lead brakes, the subject drives on and meets it
    after_s.

    by_trigger: the lead's hold is ended by a station of the subject instead of a time.
    """
    lane = Straight(length_m=800.0)
    v, a = speed_mps, 2.0
    ramp_s, hold_s = v / a, 4.0
    brake_s = ramp_s + hold_s
    lead_start = 10.0 + CAR.front_m + gap_m + CAR.rear_m
    stop_s = v / brake_mps2
    end_mps = max(0.0, v - brake_mps2 * after_s)
    braked = min(after_s, stop_s)
    lead_m = lead_start + v**2 / (2 * a) + v * hold_s + v * braked - brake_mps2 * braked**2 / 2
    contact_m = 10.0 + v**2 / (2 * a) + v * (hold_s + after_s)
    limits = replace(LIMITS, brake_mps2=8.0)
    until = Event("trigger", "now") if by_trigger else None
    lead_hold = hold(until=until) if by_trigger else hold(for_s=hold_s)
    movers = {
        "subject": mover((ramp(v), hold(settle_s=2.0, until=CONTACT), stop(5.0)), limits=limits),
        "lead": mover((ramp(v), lead_hold, stop(brake_mps2)), limits=limits),
    }
    planned = {
        "subject": motion(
            lane,
            10.0,
            0.0,
            [
                ("ramp", ramp_s, a, 0.0),
                ("hold", hold_s + after_s, 0.0, 0.0),
                ("stop", v / 5.0, -5.0, 0.0),
            ],
        ),
        "lead": motion(
            lane,
            lead_start,
            0.0,
            [
                ("ramp", ramp_s, a, 0.0),
                ("hold", hold_s, 0.0, 0.0),
                ("stop", stop_s, -brake_mps2, 0.0),
            ],
            ended_by={"hold": "now"} if by_trigger else {},
        ),
    }
    triggers, set_to = {}, {}
    if by_trigger:
        crossing_s = brake_s - 0.005 - 0.06
        station = 10.0 + v**2 / (2 * a) + v * (crossing_s - ramp_s)
        triggers["now"] = Trigger(
            "subject", "station", Span(-INF, INF), None, 0.06, 100.0, None, ("lead",)
        )
        set_to["now"] = TriggerPlan(
            "subject", "station", station, "m", station, crossing_s, 0.06, 100.0, brake_s, ("lead",)
        )
    at = Event("phase start", "stop", "lead")
    brake_m = 10.0 + v**2 / (2 * a) + v * hold_s
    encounters = {
        "gap": Gap("subject", "lead", "time gap", exactly(gap_m / v), at, 0.05),
        "contact": Contact("subject", "lead", "front", 0.0, 0.5, "reference", 0.05),
    }
    told = {
        "gap": met("gap", "subject", "lead", brake_s, (brake_m, brake_m - 10.0 + lead_start)),
        "contact": met("contact", "subject", "lead", brake_s + after_s, (contact_m, lead_m)),
    }
    assert end_mps < v
    return Case(
        scenario_of(movers, triggers=triggers, encounters=encounters),
        {"subject": lane, "lead": lane},
        plan_of(planned, triggers=set_to, encounters=told),
    )


def closing_lead(gap_m: float = 25.0) -> Case:
    """Two cars that roll at 20 and 10 m/s, 75 m apart; the lead brakes with 4 m/s2 when the gap has fallen to gap_m.

    Detected after 5 ms and acted on after 60 ms; the subject drives on and meets the braking lead.
    """
    lane = Straight(length_m=800.0)
    fast, slow, brake = 20.0, 10.0, 4.0
    crossing_s = (75.0 - gap_m) / (fast - slow)
    brake_s = crossing_s + 0.005 + 0.06
    left_m = gap_m - (fast - slow) * 0.065
    closing = fast - slow
    after_s = (math.sqrt(closing**2 + 2 * brake * left_m) - closing) / brake
    assert after_s < slow / brake
    lead_start = 10.0 + CAR.front_m + 75.0 + CAR.rear_m
    contact_s = brake_s + after_s
    met_m = 10.0 + fast * contact_s
    lead_m = lead_start + slow * contact_s - brake * after_s**2 / 2
    until = Event("trigger", "close")
    movers = {
        "subject": mover(
            (hold(settle_s=2.0, until=CONTACT), stop(5.0)), start=Start(exactly(10.0), fast)
        ),
        "lead": mover((hold(until=until), stop(brake)), start=Start(exactly(lead_start), slow)),
    }
    planned = {
        "subject": motion(
            lane, 10.0, 0.0, [("hold", contact_s, 0.0, 0.0), ("stop", fast / 5.0, -5.0, 0.0)], fast
        ),
        "lead": motion(
            lane,
            lead_start,
            0.0,
            [("hold", brake_s, 0.0, 0.0), ("stop", slow / brake, -brake, 0.0)],
            slow,
            ended_by={"hold": "close"},
        ),
    }
    trigger = Trigger("subject", "gap", exactly(gap_m), "lead", 0.06, 100.0, None, ("lead",))
    at_m = 10.0 + fast * crossing_s
    set_to = TriggerPlan(
        "subject", "gap", gap_m, "m", at_m, crossing_s, 0.06, 100.0, brake_s, ("lead",), "lead"
    )
    contact = Contact("subject", "lead", "front", 0.0, 0.5, "reference", 0.05)
    return Case(
        scenario_of(movers, triggers={"close": trigger}, encounters={"contact": contact}),
        {"subject": lane, "lead": lane},
        plan_of(
            planned,
            triggers={"close": set_to},
            encounters={"contact": met("contact", "subject", "lead", contact_s, (met_m, lead_m))},
        ),
    )


def crossing_pass(measure: str, wanted: float, tolerance: float) -> Case:
    """Two cars cross at right angles at 10 m/s, the crosser first; margins follow from half widths.

    The crosser's reference is at its exit (half of 1.8 m plus its rear, 0.9 m, past the
    crossing) when the subject is 20 m before the crossing: its entry is at 0.9 m plus its front,
    3.4 m, before.
    """
    lane = Straight(-100.0, 0.0, 0.0, 200.0)
    across = Straight(0.0, -100.0, math.pi / 2, 200.0)
    exit_m, entry_m = 100.0 + 0.9 + 0.9, 100.0 - 0.9 - 3.4
    room_m = 20.0 - 0.9 - 3.4

    def driven(path: Straight, start_m: float) -> MoverPlan:
        commands = [("ramp", 5.0, 2.0, 0.0), ("hold", 8.0, 0.0, 0.0), ("stop", 2.0, -5.0, 0.0)]
        return motion(path, start_m, 0.0, commands)

    programme = (ramp(10.0), hold(for_s=8.0), stop())
    leaves_s = 5.0 + (exit_m - 50.0 - 25.0) / 10.0
    subject_start = entry_m - room_m - (exit_m - 50.0)
    encounter = Pass("subject", "crosser", measure, exactly(wanted), "crosser", "bodies", tolerance)
    return Case(
        scenario_of(
            {"subject": mover(programme), "crosser": mover(programme, path="across")},
            encounters={"pass": encounter},
        ),
        {"subject": lane, "crosser": across},
        plan_of(
            {"subject": driven(lane, subject_start), "crosser": driven(across, 50.0)},
            encounters={
                "pass": met("pass", "subject", "crosser", leaves_s, (entry_m - room_m, exit_m))
            },
        ),
    )


def codes(verification: Verification) -> set[str]:
    """The codes of all findings that are errors."""
    return {one.code for one in verification.findings if one.severity == "error"}
