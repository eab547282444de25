"""The families of random scenarios, each with the knobs by which it can be made tight."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from tests.harness.draws import (
    Rng,
    any_car,
    any_walker,
    crossing_path,
    draw,
    prefer,
    with_stop,
)
from tests.harness.knobs import (
    Knob,
    accel_knob,
    fixed_start_knob,
    latency_knob,
    length_knob,
    setting_knob,
    settle_knob,
    start_knob,
    stroke_knob,
    within_knob,
)
from tests.harness.records import (
    FREE,
    Case,
    Contact,
    Gap,
    Mover,
    Path,
    Phase,
    Rear,
    Trigger,
)

Made = tuple[Case, list[Knob]]


def _triggered_walker(
    rng: Rng, lane: Path, cross: float, watch: str, setting_kind: str
) -> tuple[Mover, Contact, float, float]:
    """A walker across the last line of a lane; walking speed and quickest time to the contact, roughly."""
    left = bool(rng.random() < 0.5)
    aside, speed = draw(rng, 2, 8), draw(rng, 0.7, 3.5)
    settle = draw(rng, 0, 0.5) if rng.random() < 0.4 else 0.0
    phases = (
        Phase("wait", trigger="step_out"),
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, until="contact"),
    )
    walker = any_walker(rng, "walker", crossing_path(lane, cross, aside, left, 60.0), phases)
    walker = with_stop(rng, walker)
    impact = draw(rng, -0.6, 0.6)
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
        radius, angle = draw(rng, 40, 300, 1), draw(rng, 5, 60, 1)
        angle *= 1 if rng.random() < 0.5 else -1
        lane = Path(0.0, 0.0, draw(rng, -180, 180, 1), 3000.0, draw(rng, 50, 300, 1), radius, angle)
    cross = 1500.0
    if arc:
        cross = round(lane.before_m + lane.arc_m + float(rng.uniform(150, 700)), 3)
    speed = draw(rng, 3, 30)
    settle = draw(rng, 0.2, 3)
    phases = (
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, until="contact"),
    )
    subject = with_stop(rng, any_car(rng, "subject", lane, "lane", phases, table=table))
    walker, contact, way, least = _triggered_walker(rng, lane, cross, "subject", setting)
    latency = draw(rng, 0, 0.4)
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
        knobs.append(setting_knob(0, "s", before + 0.4, 0.05, broken))
    elif setting == "distance":
        trigger = replace(trigger, condition="distance", setting=(spare * speed,) * 2)
        broken = speed * (latency + way / walker.phases[1].to_mps * 0.98)
        knobs.append(setting_knob(0, "m", speed * (before + 0.4), 0.05 * speed, broken))
    elif setting == "station":
        place = at - spare * speed
        trigger = replace(trigger, condition="station", setting=(place, place), to=None)
        broken = at - speed * (latency + way / walker.phases[1].to_mps * 0.98)
        knobs.append(setting_knob(0, "m", at - speed * (before + 0.4), at - 0.05 * speed, broken))
    elif setting == "range":
        span = (round(before * float(rng.uniform(0.3, 0.9)), 4), spare)
        trigger = replace(trigger, setting=span)
    elif rng.random() < 0.4:
        condition = str(rng.choice(["distance", "station"]))
        to = "contact" if condition == "distance" else None
        trigger = replace(trigger, condition=condition, to=to)
    case = Case("", "", 0, (subject, walker), (trigger,), (contact,), prefer=prefer(rng))
    top = max(a for _, a in subject.table)
    way_walked = way + walker.phases[1].to_mps ** 2 / 2 / walker.brake_mps2
    stop_m = speed * speed / 2 / subject.brake_mps2
    if arc:
        knobs += _arc_knobs(lane, speed, at)
        slow = draw(rng, 1, 6)
        if slow * lane.radius_m < speed * speed:
            case = case.with_mover("subject", lateral_mps2=slow)
    knobs += [
        start_knob("subject", at, speed, top),
        fixed_start_knob("subject", at, speed, top),
        length_knob("subject", at, at + 500.0, stop_m),
        settle_knob("subject", 1, 0.1, 400.0),
        length_knob("walker", way, way + 60, way_walked - way),
        stroke_knob("walker", way_walked),
        stroke_knob("subject", speed * speed / 2 / top + stop_m),
        within_knob("walker", walker.phases[1].to_mps, walker.table[0][1]),
    ]
    if setting in ("time to collision", "distance", "range"):
        knobs.append(latency_knob(0, 0.0, 10.0))
    if not table and not arc:
        case = _limited(case, "subject", at, rng)
        low = case.mover("subject").start[0]
        if low > 0:
            knobs.append(accel_knob("subject", at - low, speed))
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
    v_a, v_b = draw(rng, 3, 30), draw(rng, 3, 20)
    settled = "T0" if rng.random() < 0.5 else None

    def phases(speed: float) -> tuple[Phase, ...]:
        settle = draw(rng, 0.2, 3)
        return (
            Phase("ramp", to_mps=speed),
            Phase("hold", settle_s=settle, settled_by=settled, until="contact"),
        )

    subject = with_stop(rng, any_car(rng, "subject", lane, "lane", phases(v_a), table=table))
    side = crossing_path(lane, cross, aside, left, 3000.0)
    other = any_car(rng, "crosser", side, "side", phases(v_b), table=table)
    other = with_stop(rng, replace(other, front_m=other.length_m / 2))
    impact = draw(rng, -0.9, 0.9)
    contact = Contact("contact", "subject", "crosser", cross, aside, left, impact)
    instants = {"T0": ("contact", draw(rng, 0.5, 4))} if settled else {}
    case = Case("", "", 0, (subject, other), (), (contact,), instants=instants, prefer=prefer(rng))
    at_a = cross - other.width_m / 2 - subject.front_m
    at_b = aside + (-impact if left else impact)
    knobs = []
    for mover, at, speed in ((subject, at_a, v_a), (other, at_b, v_b)):
        top = max(a for _, a in mover.table)
        stop_m = speed * speed / 2 / mover.brake_mps2
        knobs += [
            start_knob(mover.name, at, speed, top),
            fixed_start_knob(mover.name, at, speed, top),
            length_knob(mover.name, at, at + 500.0, stop_m),
            settle_knob(mover.name, 1, 0.1, 600.0),
            stroke_knob(mover.name, speed * speed / 2 / top + stop_m),
        ]
    return case, knobs


def crossing(rng: Rng) -> Made:
    return _named("crossing vehicle", _crossing(rng))


def braking_lead(rng: Rng) -> Made:
    lane = Path(0.0, 0.0, 0.0, 4000.0)
    speed = draw(rng, 5, 30)
    v_lead = speed if rng.random() < 0.5 else round(speed * float(rng.uniform(0.6, 1.0)), 3)
    build_up = draw(rng, 0.3, 2) if rng.random() < 0.5 else None
    begins = "start of lead.brake"
    rear_ramp = Phase("ramp", to_mps=speed)
    subject = any_car(
        rng, "subject", lane, "lane",
        (rear_ramp, Phase("hold", settle_s=draw(rng, 0.2, 3), settled_by=begins, until="contact")),
    )  # fmt: skip
    subject = with_stop(rng, subject)
    lead = any_car(
        rng, "lead", lane, "lane",
        (
            Phase("ramp", to_mps=v_lead),
            Phase("hold", settle_s=draw(rng, 0.2, 3), settled_by=begins),
        ),
    )  # fmt: skip
    rate = round(lead.brake_mps2 * float(rng.uniform(0.4, 1.0)), 3)
    if build_up is not None and rate / build_up > lead.jerk_mps3:
        build_up = round(rate / lead.jerk_mps3 * 1.1, 4)
    brake = Phase("ramp", to_mps=0.0, rate_mps2=rate, build_up_s=build_up, name="brake")
    lead = replace(lead, phases=(*lead.phases, brake), start=(800.0, 800.0))
    if rng.random() < 0.5:
        gap = Gap("gap", "subject", "lead", "time gap", draw(rng, 0.5, 3), "brake")
    else:
        gap = Gap("gap", "subject", "lead", "distance", draw(rng, 5, 60), "brake")
    case = Case(
        "", "", 0, (subject, lead), (), (gap, Rear("contact", "subject", "lead")),
        prefer=prefer(rng),
    )  # fmt: skip
    top = lead.table[0][1]
    lead_way = 800 + v_lead * v_lead / 2 / top + v_lead * lead.phases[1].settle_s
    stops = lead_way + v_lead * v_lead / 2 / rate

    def path_put(case: Case, value: float) -> Case:
        path = replace(lane, length_m=value)
        return case.with_mover("subject", path=path).with_mover("lead", path=path)

    knobs = [
        Knob("lane", "m", path_put, 4000.0, 800.0, round(0.99 * stops, 6)),
        settle_knob("lead", 1, 0.1, 500.0),
        settle_knob("subject", 1, 0.1, 900.0),
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
    settle = draw(rng, 0.2, 2)
    phases = (
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, settled_by="contact", for_m=None),
    )
    lead = with_stop(rng, any_car(rng, "lead", subject.path, "lane", phases))
    # Clear of the walker: it needs a good second from the lead's flank to the middle.
    gap = Gap("gap", "subject", "lead", "time gap", draw(rng, 3, 5), None, "contact")
    case = replace(case, movers=(*case.movers, lead), encounters=(*case.encounters, gap))
    at = 1500.0 + 5 * speed
    top = lead.table[0][1]
    knobs = [knob for knob in knobs if knob.what != "subject path"]
    knobs += [start_knob("lead", at, speed, top), settle_knob("lead", 1, 0.1, 900.0)]
    return case, knobs


def _chain(rng: Rng) -> Made:
    """The subject launches a bicycle on a way of its own, and that one launches the walker."""
    case, knobs = _subject_and_walker(rng, "free")
    speed = draw(rng, 1.5, 7)
    settle = draw(rng, 0.1, 1)
    way = Path(0.0, 60.0, 0.0, 120.0)
    phases = (
        Phase("wait", trigger="ride"),
        Phase("ramp", to_mps=speed),
        Phase("hold", settle_s=settle, for_m=round(settle * speed + 8.0, 3)),
    )
    rider = any_walker(rng, "rider", way, phases)
    rider = replace(with_stop(rng, rider), kind="bicycle", path_name="cycleway")
    own = case.triggers[0]
    wait = draw(rng, 12, 25)
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
        setting_knob(0, "s", 40.0, 0.1, 0.9 * walker_way),
        latency_knob(1, 0.0, 60.0),
        length_knob("rider", ramp_m, 120.0, ramp_m * 0.01),
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
