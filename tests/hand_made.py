"""Problems written by hand, for tests of the solver that need no scenario file. All figures invented."""

import math

from choreo.problem.records import (
    ContactPoint,
    Hold,
    MoverProblem,
    Problem,
    Ramp,
    TriggerProblem,
    Wait,
)
from choreo.scenario import Event, Span

INF = math.inf
MEETS = Event("encounter", "contact")


def given(value: float) -> Span:
    """A single value as a range."""
    return Span(float(value), float(value))


def ramp(to_mps: float, accel: float, jerk: float, **changes: object) -> Ramp:
    """A free ramp upwards under constant limits."""
    values: dict[str, object] = {
        "name": "ramp",
        "origin": None,
        "direction": 1,
        "to": given(to_mps),
        "table": ((0.0, accel),),
        "jerk_mps3": jerk,
        "rated": False,
        "is_stop": False,
        "build_up_s": None,
        "within_m": None,
        "over_m": None,
        "lasting_s": None,
    }
    return Ramp(**(values | changes))  # type: ignore[arg-type]


def stop(rate: float, jerk: float) -> Ramp:
    """A stop at a given rate."""
    return ramp(0.0, rate, jerk, name="stop", direction=-1, rated=True, is_stop=True)


def hold(settle_s: float = 0.0, until: Event | None = MEETS, **changes: object) -> Hold:
    """A hold until the contact."""
    values: dict[str, object] = {
        "name": "hold",
        "origin": None,
        "settle_s": settle_s,
        "settled_by": None,
        "for_s": None,
        "for_m": None,
        "until": until,
    }
    return Hold(**(values | changes))  # type: ignore[arg-type]


def mover(name: str, phases: tuple[object, ...], **changes: object) -> MoverProblem:
    """A mover on a straight path of 400 m."""
    values: dict[str, object] = {
        "name": name,
        "origin": None,
        "start": Span(0.0, 400.0),
        "start_origin": None,
        "start_speed_mps": 0.0,
        "room": Span(0.0, 400.0),
        "room_origin": None,
        "stroke_m": INF,
        "stroke_origin": None,
        "top_speed_mps": 60.0,
        "lateral_mps2": INF,
        "lateral_origin": None,
        "curve": (),
        "phases": phases,
        "marks": (),
    }
    return MoverProblem(**(values | changes))  # type: ignore[arg-type]


def walker_problem(
    speed_mps: float = 40 / 3.6,
    *,
    prefer: str = "shortest runway",
    table: tuple[tuple[float, float], ...] = ((0.0, 3.0),),
    jerk_mps3: float = 4.0,
    settle_s: float = 2.0,
    station_m: float = 306.35,
    setting: Span | None = None,
) -> Problem:
    """A subject meets a triggered walker: 4 m of crossing at 5 km/h."""
    subject = mover(
        "subject",
        (ramp(speed_mps, 3.0, jerk_mps3, table=table), hold(settle_s), stop(5.0, jerk_mps3)),
    )
    walker = mover(
        "walker",
        (
            Wait("wait", None, "step_out", None),
            ramp(5 / 3.6, 2.0, 20.0, within_m=1.0),
            hold(),
            stop(2.0, 20.0),
        ),
        start=given(0.0),
        room=Span(0.0, 9.0),
    )
    trigger = TriggerProblem(
        "step_out",
        None,
        "subject",
        "time to collision",
        setting or Span(-INF, INF),
        "contact",
        0.06,
        0.01,
        1,
    )
    contact = ContactPoint("contact", None, "subject", "walker", station_m, 4.0)
    return Problem(prefer, (subject, walker), (trigger,), (contact,), ())
