"""The families of random scenarios, each with the knobs by which it can be made tight."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from tests.harness.records import (
    FREE,
    INF,
    Case,
    Contact,
    Gap,
    Mover,
    Path,
    Phase,
    Rear,
    Trigger,
)

Rng = np.random.Generator


@dataclass(frozen=True)
class Knob:
    """One number of a case: easy lets it be done, hard does not (both are tried first).

    broken: a value that an elementary bound excludes.
    """

    what: str
    unit: str
    put: Callable[[Case, float], Case]
    easy: float
    hard: float
    broken: float | None = None


Made = tuple[Case, list[Knob]]


def _draw(rng: Rng, low: float, high: float, digits: int = 3) -> float:
    return round(float(rng.uniform(low, high)), digits)


def _jerk(rng: Rng, low: float, high: float) -> float:
    return INF if rng.random() < 0.3 else _draw(rng, low, high)


def _table(rng: Rng) -> tuple[tuple[float, float], ...]:
    speeds = sorted({round(float(one), 2) for one in rng.uniform(2, 40, int(rng.integers(1, 4)))})
    accels = sorted((_draw(rng, 0.5, 5) for _ in range(len(speeds) + 1)), reverse=True)
    return tuple(zip((0.0, *speeds), accels, strict=True))


def _car(
    rng: Rng,
    name: str,
    path: Path,
    path_name: str,
    phases: tuple[Phase, ...],
    *,
    table: bool = False,
) -> Mover:
    length = _draw(rng, 3.5, 5.5)
    accelerate = _table(rng) if table else ((0.0, _draw(rng, 1, 5)),)
    return Mover(
        name=name,
        kind="subject" if name == "subject" else "vehicle",
        path=path,
        path_name=path_name,
        length_m=length,
        width_m=_draw(rng, 1.5, 2.1),
        front_m=round(length * float(rng.uniform(0.5, 0.8)), 3),
        table=accelerate,
        brake_mps2=_draw(rng, 3, 9),
        jerk_mps3=_jerk(rng, 1.5, 20),
        phases=phases,
    )


def _walker(rng: Rng, name: str, path: Path, phases: tuple[Phase, ...]) -> Mover:
    length = _draw(rng, 0.3, 1.0)
    return Mover(
        name=name,
        kind="pedestrian",
        path=path,
        path_name=f"{name}-way",
        length_m=length,
        width_m=_draw(rng, 0.3, 0.8),
        front_m=length / 2,
        table=((0.0, _draw(rng, 0.4, 4)),),
        brake_mps2=_draw(rng, 0.5, 5),
        jerk_mps3=_jerk(rng, 2, 40),
        phases=phases,
        start=(0.0, 0.0),
    )


def _stop(rng: Rng, brake: float) -> Phase:
    if rng.random() < 0.4:
        return Phase("stop")
    return Phase("stop", rate_mps2=round(brake * float(rng.uniform(0.4, 1.0)), 3))


def _with_stop(rng: Rng, mover: Mover) -> Mover:
    return replace(mover, phases=(*mover.phases, _stop(rng, mover.brake_mps2)))


def _crossing_path(lane: Path, cross: float, aside: float, left: bool, length: float) -> Path:
    x, y, heading = lane.point(cross, aside if left else -aside)
    return Path(x, y, heading + (-90.0 if left else 90.0), length)


def _prefer(rng: Rng) -> str:
    return str(rng.choice(["shortest runway"] * 4 + ["gentlest ramps", "quickest run"]))


def _start_knob(name: str, contact_m: float, speed: float, top: float) -> Knob:
    """The mover may start only from a station on: its runway."""

    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, start=(value, max(case.mover(name).path.length_m, value)))

    bound = max(0.0, contact_m - 0.9 * speed * speed / 2 / top)
    return Knob(f"{name} start from", "m", put, 0.0, contact_m, round(bound, 6))


def _fixed_start_knob(name: str, contact_m: float, speed: float, top: float) -> Knob:
    bound = max(0.0, contact_m - 0.9 * speed * speed / 2 / top)

    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, start=(value, value))

    return Knob(f"{name} start at", "m", put, 0.0, contact_m, round(bound, 6))


def _length_knob(name: str, least_m: float, easy_m: float, stop_m: float) -> Knob:
    """The path's length decides on the run-out."""

    def put(case: Case, value: float) -> Case:
        mover = case.mover(name)
        return case.with_mover(name, path=replace(mover.path, length_m=value))

    return Knob(f"{name} path", "m", put, easy_m, least_m, round(least_m + 0.9 * stop_m, 6))


def _settle_knob(name: str, index: int, easy: float, hard: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_phase(name, index, settle_s=value)

    return Knob(f"{name} settle", "s", put, easy, hard)


def _stroke_knob(name: str, way_m: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, stroke_m=value)

    return Knob(f"{name} stroke", "m", put, 500.0, way_m, round(way_m * 0.99, 6))


def _accel_knob(name: str, runway_m: float, speed: float) -> Knob:
    """A constant acceleration limit."""

    def put(case: Case, value: float) -> Case:
        return case.with_mover(name, table=((0.0, value),))

    bound = 0.9 * speed * speed / 2 / runway_m
    return Knob(f"{name} accelerate", "ratio", put, 20.0, bound, round(bound, 6))


def _latency_knob(index: int, easy: float, hard: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_trigger(index, latency_s=value)

    return Knob("latency", "s", put, easy, hard)


def _setting_knob(index: int, unit: str, easy: float, hard: float, broken: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_trigger(index, setting=(value, value))

    return Knob("trigger setting", unit, put, easy, hard, round(broken, 6))


def _within_knob(name: str, speed: float, top: float) -> Knob:
    def put(case: Case, value: float) -> Case:
        return case.with_phase(name, 1, within_m=value)

    least = speed * speed / 2 / top
    return Knob(f"{name} within", "m", put, 30 * least + 1, least * 0.5, round(least * 0.9, 6))


def _triggered_walker(
    rng: Rng, lane: Path, cross: float, watch: str, setting_kind: str
) -> tuple[Mover, Contact, float, float]:
    """A walker across the last line of a lane; walking speed and quickest time to the contact, roughly."""
    left = bool(rng.random() < 0.5)
    aside, speed = _draw(rng, 2, 8), _draw(rng, 0.7, 3.5)
    settle = _draw(rng, 0, 0.5) if rng.random() < 0.4 else 0.0
    phases = (
        Phase("wait", trigger="step_out"),
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, until="contact"),
    )
    walker = _walker(rng, "walker", _crossing_path(lane, cross, aside, left, 60.0), phases)
    walker = _with_stop(rng, walker)
    impact = _draw(rng, -0.6, 0.6)
    contact = Contact("contact", watch, "walker", cross, aside, left, impact)
    way = aside + (-impact if left else impact)
    jerk = walker.jerk_mps3
    a = walker.table[0][1]
    ramp = speed / a + (a / jerk if speed > a * a / jerk else 0.0)
    if speed <= a * a / jerk:
        ramp = 2 * math.sqrt(speed / jerk)
    return walker, contact, way, ramp / 2 + way / speed


def _subject_and_walker(rng: Rng, setting: str, *, table: bool = False, arc: bool = False) -> Made:
    lane = Path(0.0, 0.0, 0.0, 3000.0)
    if arc:
        radius, angle = _draw(rng, 40, 300, 1), _draw(rng, 5, 60, 1)
        angle *= 1 if rng.random() < 0.5 else -1
        lane = Path(
            0.0, 0.0, _draw(rng, -180, 180, 1), 3000.0, _draw(rng, 50, 300, 1), radius, angle
        )
    cross = 1500.0
    if arc:
        cross = round(lane.before_m + lane.arc_m + float(rng.uniform(150, 700)), 3)
    speed = _draw(rng, 3, 30)
    settle = _draw(rng, 0.2, 3)
    phases = (
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, until="contact"),
    )
    subject = _with_stop(rng, _car(rng, "subject", lane, "lane", phases, table=table))
    walker, contact, way, least = _triggered_walker(rng, lane, cross, "subject", setting)
    latency = _draw(rng, 0, 0.4)
    trigger = Trigger(
        "step_out", "subject", "time to collision", FREE, "contact", latency,
        float(rng.choice([20, 50, 100, 200])),
    )  # fmt: skip
    at = cross - walker.width_m / 2 - subject.front_m
    before = least + latency + 0.5 / trigger.sampling_hz
    knobs = []
    spare = round(before + float(rng.uniform(0.05, 0.6)), 4)
    if setting == "time to collision":
        trigger = replace(trigger, setting=(spare, spare))
        broken = latency + way / walker.phases[1].to_mps * 0.98
        knobs.append(_setting_knob(0, "s", before + 0.4, 0.05, broken))
    elif setting == "distance":
        trigger = replace(trigger, condition="distance", setting=(spare * speed,) * 2)
        broken = speed * (latency + way / walker.phases[1].to_mps * 0.98)
        knobs.append(_setting_knob(0, "m", speed * (before + 0.4), 0.05 * speed, broken))
    elif setting == "station":
        place = at - spare * speed
        trigger = replace(trigger, condition="station", setting=(place, place), to=None)
        broken = at - speed * (latency + way / walker.phases[1].to_mps * 0.98)
        knobs.append(_setting_knob(0, "m", at - speed * (before + 0.4), at - 0.05 * speed, broken))
    elif setting == "range":
        span = (round(before * float(rng.uniform(0.3, 0.9)), 4), spare)
        trigger = replace(trigger, setting=span)
    elif rng.random() < 0.4:
        condition = str(rng.choice(["distance", "station"]))
        to = "contact" if condition == "distance" else None
        trigger = replace(trigger, condition=condition, to=to)
    case = Case("", "", 0, (subject, walker), (trigger,), (contact,), prefer=_prefer(rng))
    top = max(a for _, a in subject.table)
    way_walked = way + walker.phases[1].to_mps ** 2 / 2 / walker.brake_mps2
    stop_m = speed * speed / 2 / subject.brake_mps2
    if arc:
        knobs += _arc_knobs(lane, speed, at)
        slow = _draw(rng, 1, 6)
        if slow * lane.radius_m < speed * speed:
            case = case.with_mover("subject", lateral_mps2=slow)
    knobs += [
        _start_knob("subject", at, speed, top),
        _fixed_start_knob("subject", at, speed, top),
        _length_knob("subject", at, at + 500.0, stop_m),
        _settle_knob("subject", 1, 0.1, 400.0),
        _length_knob("walker", way, way + 60, way_walked - way),
        _stroke_knob("walker", way_walked),
        _stroke_knob("subject", speed * speed / 2 / top + stop_m),
        _within_knob("walker", walker.phases[1].to_mps, walker.table[0][1]),
    ]
    if setting in ("time to collision", "distance", "range"):
        knobs.append(_latency_knob(0, 0.0, 10.0))
    if not table and not arc:
        case = _limited(case, "subject", at, rng)
        low = case.mover("subject").start[0]
        if low > 0:
            knobs.append(_accel_knob("subject", at - low, speed))
    return case, knobs


def _arc_knobs(lane: Path, speed: float, at: float) -> list[Knob]:
    def put(case: Case, value: float) -> Case:
        # The start lies before the arc, so that it must be driven.
        moved = case.with_mover("subject", lateral_mps2=value)
        return moved.with_mover("subject", start=(0.0, min(lane.before_m, at)))

    need = speed * speed / lane.radius_m
    return [Knob("lateral", "ratio", put, need * 1.05, need * 0.02)]


def _limited(case: Case, name: str, at: float, rng: Rng) -> Case:
    """Often the runway is limited anyway, well beyond what is needed."""
    if rng.random() < 0.5:
        return case
    mover = case.mover(name)
    speed = mover.phases[0].to_mps
    jerk = mover.jerk_mps3
    a = mover.table[0][1]
    ramp = speed * (speed / a + (a / jerk if math.isfinite(jerk) else 0.0))
    need = ramp + speed * (mover.phases[1].settle_s + 12)
    low = max(0.0, at - need * float(rng.uniform(1.0, 1.5)))
    return case.with_mover(name, start=(round(low, 3), round(at, 3)))


def free_trigger(rng: Rng) -> Made:
    return _named("walker, free trigger", _subject_and_walker(rng, "free"))


def given_trigger(rng: Rng) -> Made:
    setting = str(rng.choice(["time to collision", "distance", "station", "range"]))
    return _named("walker, given trigger", _subject_and_walker(rng, setting))


def tables(rng: Rng) -> Made:
    setting = str(rng.choice(["free", "time to collision", "distance"]))
    if rng.random() < 0.3:
        return _named("acceleration tables", _crossing(rng, table=True))
    return _named("acceleration tables", _subject_and_walker(rng, setting, table=True))


def arcs(rng: Rng) -> Made:
    setting = str(rng.choice(["free", "time to collision", "distance", "station"]))
    return _named("arc and lateral limit", _subject_and_walker(rng, setting, arc=True))


def _crossing(rng: Rng, *, table: bool = False) -> Made:
    lane = Path(0.0, 0.0, 0.0, 3000.0)
    cross, aside, left = 1500.0, 1500.0, bool(rng.random() < 0.5)
    v_a, v_b = _draw(rng, 3, 30), _draw(rng, 3, 20)
    settled = "T0" if rng.random() < 0.5 else None

    def phases(speed: float) -> tuple[Phase, ...]:
        settle = _draw(rng, 0.2, 3)
        return (
            Phase("ramp", to_mps=speed),
            Phase("hold", settle_s=settle, settled_by=settled, until="contact"),
        )

    subject = _with_stop(rng, _car(rng, "subject", lane, "lane", phases(v_a), table=table))
    side = _crossing_path(lane, cross, aside, left, 3000.0)
    other = _car(rng, "crosser", side, "side", phases(v_b), table=table)
    other = _with_stop(rng, replace(other, front_m=other.length_m / 2))
    impact = _draw(rng, -0.9, 0.9)
    contact = Contact("contact", "subject", "crosser", cross, aside, left, impact)
    instants = {"T0": ("contact", _draw(rng, 0.5, 4))} if settled else {}
    case = Case("", "", 0, (subject, other), (), (contact,), instants=instants, prefer=_prefer(rng))
    at_a = cross - other.width_m / 2 - subject.front_m
    at_b = aside + (-impact if left else impact)
    knobs = []
    for mover, at, speed in ((subject, at_a, v_a), (other, at_b, v_b)):
        top = max(a for _, a in mover.table)
        stop_m = speed * speed / 2 / mover.brake_mps2
        knobs += [
            _start_knob(mover.name, at, speed, top),
            _fixed_start_knob(mover.name, at, speed, top),
            _length_knob(mover.name, at, at + 500.0, stop_m),
            _settle_knob(mover.name, 1, 0.1, 600.0),
            _stroke_knob(mover.name, speed * speed / 2 / top + stop_m),
        ]
    return case, knobs


def crossing(rng: Rng) -> Made:
    return _named("crossing vehicle", _crossing(rng))


def braking_lead(rng: Rng) -> Made:
    lane = Path(0.0, 0.0, 0.0, 4000.0)
    speed = _draw(rng, 5, 30)
    v_lead = speed if rng.random() < 0.5 else round(speed * float(rng.uniform(0.6, 1.0)), 3)
    build_up = _draw(rng, 0.3, 2) if rng.random() < 0.5 else None
    begins = "start of lead.brake"
    rear_ramp = Phase("ramp", to_mps=speed)
    subject = _car(
        rng, "subject", lane, "lane",
        (rear_ramp, Phase("hold", settle_s=_draw(rng, 0.2, 3), settled_by=begins, until="contact")),
    )  # fmt: skip
    subject = _with_stop(rng, subject)
    lead = _car(
        rng, "lead", lane, "lane",
        (
            Phase("ramp", to_mps=v_lead),
            Phase("hold", settle_s=_draw(rng, 0.2, 3), settled_by=begins),
        ),
    )  # fmt: skip
    rate = round(lead.brake_mps2 * float(rng.uniform(0.4, 1.0)), 3)
    if build_up is not None and rate / build_up > lead.jerk_mps3:
        build_up = round(rate / lead.jerk_mps3 * 1.1, 4)
    brake = Phase("ramp", to_mps=0.0, rate_mps2=rate, build_up_s=build_up, name="brake")
    lead = replace(lead, phases=(*lead.phases, brake), start=(800.0, 800.0))
    if rng.random() < 0.5:
        gap = Gap("gap", "subject", "lead", "time gap", _draw(rng, 0.5, 3), "brake")
    else:
        gap = Gap("gap", "subject", "lead", "distance", _draw(rng, 5, 60), "brake")
    case = Case(
        "", "", 0, (subject, lead), (), (gap, Rear("contact", "subject", "lead")),
        prefer=_prefer(rng),
    )  # fmt: skip
    top = lead.table[0][1]
    lead_way = 800 + v_lead * v_lead / 2 / top + v_lead * lead.phases[1].settle_s
    stops = lead_way + v_lead * v_lead / 2 / rate

    def path_put(case: Case, value: float) -> Case:
        path = replace(lane, length_m=value)
        return case.with_mover("subject", path=path).with_mover("lead", path=path)

    knobs = [
        Knob("lane", "m", path_put, 4000.0, 800.0, round(0.99 * stops, 6)),
        _settle_knob("lead", 1, 0.1, 500.0),
        _settle_knob("subject", 1, 0.1, 900.0),
    ]

    def near_put(case: Case, value: float) -> Case:
        """The subject has little room behind the lead's own run-up."""
        moved = case.with_mover("subject", start=(value, max(value, 2000.0)))
        return moved.with_mover("lead", start=(800.0, 900.0))

    knobs.append(Knob("subject start from", "m", near_put, 0.0, 3900.0, 3995.0))
    return _named("braking lead", (case, knobs))


def three(rng: Rng) -> Made:
    if rng.random() < 0.5:
        return _named("lead, subject, walker", _lead_and_walker(rng))
    return _named("chain of triggers", _chain(rng))


def _lead_and_walker(rng: Rng) -> Made:
    setting = str(rng.choice(["free", "time to collision", "distance"]))
    case, knobs = _subject_and_walker(rng, setting)
    subject = case.mover("subject")
    speed = subject.phases[0].to_mps
    settle = _draw(rng, 0.2, 2)
    phases = (
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, settled_by="contact", for_m=None),
    )
    lead = _with_stop(rng, _car(rng, "lead", subject.path, "lane", phases))
    # Clear of the walker: it needs a good second from the lead's flank to the middle.
    gap = Gap("gap", "subject", "lead", "time gap", _draw(rng, 3, 5), None, "contact")
    case = replace(case, movers=(*case.movers, lead), encounters=(*case.encounters, gap))
    at = 1500.0 + 5 * speed
    top = lead.table[0][1]
    knobs = [knob for knob in knobs if knob.what != "subject path"]
    knobs += [_start_knob("lead", at, speed, top), _settle_knob("lead", 1, 0.1, 900.0)]
    return case, knobs


def _chain(rng: Rng) -> Made:
    """The subject launches a bicycle on a way of its own, and that one launches the walker."""
    case, knobs = _subject_and_walker(rng, "free")
    speed = _draw(rng, 1.5, 7)
    settle = _draw(rng, 0.1, 1)
    way = Path(0.0, 60.0, 0.0, 120.0)
    phases = (
        Phase("wait", trigger="ride"),
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, for_m=round(settle * speed + 8.0, 3)),
    )
    rider = _walker(rng, "rider", way, phases)
    rider = replace(_with_stop(rng, rider), kind="bicycle", path_name="cycleway")
    own = case.triggers[0]
    wait = _draw(rng, 12, 25)
    ride = Trigger("ride", "subject", "time to collision", FREE, "contact", 0.05, 100.0)
    if rng.random() < 0.5:
        ride = replace(ride, setting=(wait, wait))
    onward = FREE
    ramp_m = speed * speed / 2 / rider.table[0][1]
    if rng.random() < 0.5:
        place = round(ramp_m * 2.5 + settle * speed + 3, 3)
        onward = (place, place)
    out = replace(own, watch="rider", condition="station", setting=onward, to=None)
    case = replace(case, movers=(*case.movers, rider), triggers=(ride, out))
    knobs = [knob for knob in knobs if knob.what not in ("latency", "trigger setting")]
    walker_way = 2.0 / case.mover("walker").phases[1].to_mps
    knobs += [
        _setting_knob(0, "s", 40.0, 0.1, 0.9 * walker_way),
        _latency_knob(1, 0.0, 60.0),
        _length_knob("rider", ramp_m, 120.0, ramp_m * 0.01),
    ]
    return case, knobs


def strokes(rng: Rng) -> Made:
    """Run-out, stroke, ramps over a length or for a time, rolling starts."""
    case, knobs = _subject_and_walker(rng, str(rng.choice(["free", "time to collision"])))
    walker = case.mover("walker")
    speed, top = walker.phases[1].to_mps, walker.table[0][1]
    least = speed * (speed / top + (top / walker.jerk_mps3)) / 2
    choice = rng.integers(3)
    if choice == 0:
        case = case.with_phase("walker", 1, over_m=round(least * float(rng.uniform(1.05, 1.5)), 4))
    elif choice == 1:
        lasts = 2 * least / speed * float(rng.uniform(1.05, 1.5))
        case = case.with_phase("walker", 1, lasting_s=round(lasts, 4))
    else:
        to = case.mover("subject").phases[0].to_mps
        case = case.with_mover("subject", start_mps=round(to * float(rng.uniform(0.2, 0.7)), 3))
    wanted = (
        "walker stroke",
        "walker path",
        "subject stroke",
        "subject path",
        "subject start from",
    )
    knobs = [
        knob
        for knob in knobs
        if knob.what in wanted and not (choice == 2 and "subject" in knob.what)
    ]
    return _named("stroke and run-out", (case, knobs))


def _named(name: str, made: Made) -> Made:
    return replace(made[0], family=name), made[1]


FAMILIES: dict[str, Callable[[Rng], Made]] = {
    "free trigger": free_trigger,
    "given trigger": given_trigger,
    "crossing": crossing,
    "braking lead": braking_lead,
    "three": three,
    "tables": tables,
    "arcs": arcs,
    "strokes": strokes,
}
