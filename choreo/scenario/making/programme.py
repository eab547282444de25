"""A programme as written -> phases with names, resolved events, and a stop at the end."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from choreo.scenario.making.draft import Draft
from choreo.scenario.making.driving import drive_of, place_of
from choreo.scenario.making.moments import event_of
from choreo.scenario.records.scenario import Limits, Phase, Span
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.scenario.written.fields import Lateral
from choreo.words.display import KMH_PER_MPS, short_kmh
from choreo.words.kinds import PHASE_KINDS, PHASES
from choreo.words.quantities import QuantityError, parse

# What is slower can hardly be held: 1 km/h, common practice, no source.
LEAST_HELD_MPS = 1.0 / KMH_PER_MPS


def phase_names(written: tuple[w.PhaseWritten, ...]) -> list[str]:
    """Give every phase's name: the author's, or its kind, numbered from the second on."""
    names: list[str] = []
    used: set[str] = set()
    # The next number of each kind: counting on from there keeps long programmes quick.
    numbers: dict[str, int] = {}
    for phase in written:
        kind = _kind_of(phase)
        name = phase.name or kind
        while phase.name is None and name in used:
            numbers[kind] = numbers.get(kind, 1) + 1
            name = f"{kind} {numbers[kind]}"
        names.append(name)
        used.add(name)
    return names


def _kind_of(phase: w.PhaseWritten) -> str:
    """The first kind that is written; one that has none is a phase."""
    for kind in (*PHASE_KINDS, "follow", "drive"):
        if getattr(phase, kind) is not None:
            return kind
    return "phase"


def programme_of(
    draft: Draft, mover: str, written: w.MoverWritten, limits: Limits
) -> tuple[Phase, ...]:
    """Make the phases of a mover, and check that they follow each other."""
    keys: Keys = ("movers", mover, "programme")
    names = phase_names(written.programme)
    phases: list[Phase] = []
    for index, phase in enumerate(written.programme):
        kinds: dict[str, w.PhaseBlock | w.DriveWritten | None] = {}
        kinds.update(phase.by_kind().items())
        kinds["drive"] = phase.drive
        chosen: tuple[str, w.PhaseBlock | w.DriveWritten] | None
        chosen = draft.one_of((*keys, index), f"phase {index + 1} of {mover}", kinds)
        if chosen is None:
            continue
        if phase.name is not None and names.count(phase.name) > 1:
            draft.fault(
                "scenario.same-name",
                (*keys, index, "name"),
                name=phase.name,
                first="a phase",
                second=f"another phase of {mover}",
            )
        kind, block = chosen
        made = _phase(draft, (*keys, index, kind), names[index], block)
        if made is not None:
            phases.append(made)
    if written.start is not None and written.start.at is not None:
        _check_at_go(draft, mover, written.programme)
    # Around a faulty phase nobody knows what follows what.
    if len(phases) == len(written.programme):
        _check_order(draft, keys, mover, written, phases, limits)
    if phases and phases[-1].kind != "stop" and _ends_moving(written, phases):
        name = "stop" if "stop" not in names else "implied stop"
        phases.append(Phase("stop", name, implied=True))
        usual = written.usual is not None and written.usual.brake is not None
        braking = "usual" if usual else "service"
        draft.fault("scenario.implied-stop", keys, severity="note", mover=mover, braking=braking)
    return tuple(phases)


def _check_at_go(draft: Draft, mover: str, programme: tuple[w.PhaseWritten, ...]) -> None:
    """Who is launched at go has a programme, and no wait before it."""
    second = None if programme else "no programme"
    if programme and programme[0].wait is not None:
        second = "a `wait` as its first phase"
    if second is not None:
        draft.fault(
            "scenario.not-together",
            ("movers", mover, "start", "at"),
            where=mover,
            first="`at: go`",
            second=second,
        )


def _ends_moving(written: w.MoverWritten, phases: list[Phase]) -> bool:
    speed = Span(0.0, written.start.speed if written.start else 0.0)
    for phase in phases:
        if PHASES[phase.kind].changes_speed or phase.drive is not None:
            speed = phase.to
    return speed.hi > 0


def _phase(
    draft: Draft, keys: Keys, name: str, written: w.PhaseBlock | w.DriveWritten
) -> Phase | None:
    match written:
        case w.DriveWritten():
            return drive_of(draft, keys, name, written)
        case w.WaitWritten():
            return _wait(draft, keys, name, written)
        case w.RampWritten():
            return _ramp(draft, keys, name, written)
        case w.HoldWritten():
            return _hold(draft, keys, name, written)
        case w.StopWritten():
            return _stop(draft, keys, name, written)
    assert_never(written)


def _ramp(draft: Draft, keys: Keys, name: str, written: w.RampWritten) -> Phase:
    if written.within is not None and written.over is not None:
        draft.fault("scenario.not-together", keys, where="ramp", first="`within`", second="`over`")
    for key, rate in (("accelerate", written.accelerate), ("brake", written.brake)):
        if rate is None or rate.fixed:
            continue
        for other, value in (("over", written.over), ("lasting", written.lasting)):
            if value is not None:
                second = f"`{other}`, which gives the rate"
                first = f"`{key}` that is left to be chosen"
                draft.fault(
                    "scenario.not-together", (*keys, key), where=name, first=first, second=second
                )
    lateral = written.to if isinstance(written.to, Lateral) else None
    if written.on is not None:
        _check_on(draft, (*keys, "on"), written.on, lateral)
    if 0.0 < written.speed.hi < LEAST_HELD_MPS:
        speed = f"{written.speed.hi * KMH_PER_MPS:g} km/h"
        draft.fault("scenario.crawls", (*keys, "to"), severity="note", speed=speed)
    return Phase(
        "ramp",
        name,
        to=written.speed,
        lateral_mps2=None if lateral is None else lateral.accel_mps2,
        lateral_on=written.on,
        accelerate_mps2=_one_rate(written.accelerate),
        brake_mps2=_one_rate(written.brake),
        accelerate=_chosen_rate(written.accelerate),
        brake=_chosen_rate(written.brake),
        jerk_mps3=written.jerk,
        build_up_s=written.build_up,
        within_m=written.within,
        over_m=written.over,
        lasting_s=written.lasting,
    )


def _check_on(draft: Draft, keys: Keys, piece: str, lateral: Lateral | None) -> None:
    """The piece on which a lateral acceleration is wanted is one of the mover's path."""
    mover = str(keys[1])
    if lateral is None:
        draft.fault(
            "scenario.not-together", keys, where="ramp", first="`on`", second="a speed in `to`"
        )
        return
    inside = draft.movers.get(mover)
    if inside is not None and inside.whole and piece not in inside.marks:
        draft.unknown(keys, f"named path piece of {mover}", piece, inside.marks)


def _one_rate(rate: Span | None) -> float | None:
    return rate.lo if rate is not None and rate.fixed else None


def _chosen_rate(rate: Span | None) -> Span | None:
    return None if rate is None or rate.fixed else rate


def _wait(draft: Draft, keys: Keys, name: str, written: w.WaitWritten) -> Phase | None:
    choices = {
        "for": written.for_what,
        "until": written.until,
        "lasting": written.lasting,
    }
    if draft.one_of(keys, "a wait", choices) is None:
        return None
    first = keys[-2] == 0
    if written.for_what is not None:
        return _wait_for(draft, keys, name, written.for_what, first=first)
    if written.lasting is not None and not first:
        return Phase("wait", name, lasting_s=written.lasting)
    # A first wait begins at go, so both count from there.
    return Phase("wait", name, for_s=written.lasting if written.until is None else written.until)


def _wait_for(draft: Draft, keys: Keys, name: str, text: str, *, first: bool) -> Phase | None:
    """A trigger by name; a time too, if that is from go in any reading."""
    if draft.names.get(text) == "trigger":
        return Phase("wait", name, for_trigger=text)
    if not text[:1].isdigit():
        draft.unknown((*keys, "for"), "trigger", text, draft.named("trigger"))
        return None
    try:
        time_s = parse(text, "time")
    except QuantityError as error:
        draft.fault(
            "scenario.bad-value",
            (*keys, "for"),
            where="wait > for",
            what=error.wrong,
            instead=error.instead,
        )
        return None
    if not first:
        draft.fault("scenario.wait-since-when", (*keys, "for"), time=text)
        return None
    return Phase("wait", name, for_s=time_s)


def _hold(draft: Draft, keys: Keys, name: str, written: w.HoldWritten) -> Phase:
    passing = draft.document.passes.get(keys[:-1], 0)
    lateral = written.until if isinstance(written.until, Lateral) else None
    ending = None if isinstance(written.until, Lateral) else written.until
    phase = Phase(
        "hold",
        name,
        settle_s=written.settle,
        settled_by=event_of(draft, (*keys, "settled by"), written.settled_by, passing),
        until=event_of(draft, (*keys, "until"), ending, passing),
        until_lateral_mps2=None if lateral is None else lateral.accel_mps2,
    )
    if written.for_what is None:
        return phase
    if written.until is not None:
        draft.fault("scenario.not-together", keys, where="hold", first="`for`", second="`until`")
    try:
        return replace(phase, for_s=parse(written.for_what, "time"))
    except QuantityError:
        pass
    try:
        return replace(phase, for_m=parse(written.for_what, "length"))
    except QuantityError as error:
        draft.fault(
            "scenario.bad-value",
            (*keys, "for"),
            where="hold > for",
            what=error.wrong.replace("a length", "a time or a length"),
            instead="Write a time or a length, like `3 s` or `50 m`.",
        )
    return phase


def _stop(draft: Draft, keys: Keys, name: str, written: w.StopWritten) -> Phase:
    stop = Phase("stop", name, brake_mps2=written.brake)
    if written.at is None:
        return stop
    station, at = place_of(draft, (*keys, "at"), "stop > at", written.at)
    return replace(stop, rests_m=station, rests_at=at)


def _check_order(
    draft: Draft,
    keys: Keys,
    mover: str,
    written: w.MoverWritten,
    phases: list[Phase],
    limits: Limits,
) -> None:
    start = written.start.speed if written.start else 0.0
    speed = Span(start, start)
    if start > limits.speed_mps:
        _too_fast(draft, ("movers", mover, "start", "speed"), mover, start, limits)
    for index, phase in enumerate(phases):
        place = (*keys, index)
        _check_rates(draft, place, mover, phase, limits)
        match phase.kind:
            case "wait":
                if speed.hi > 0:
                    draft.fault("scenario.wait-while-moving", place, mover=mover)
            case "hold":
                if phase.drive is not None:
                    if index and phases[index - 1].kind == "stop":
                        draft.fault("scenario.after-stop", place, mover=mover)
                    if phase.to.fixed and phase.to.lo > limits.speed_mps:
                        _too_fast(draft, (*place, "drive", "to"), mover, phase.to.lo, limits)
                    speed = phase.to
                elif speed.hi <= 0:
                    draft.fault("scenario.hold-at-rest", place, mover=mover)
            case "stop":
                if speed.hi <= 0:
                    draft.fault("scenario.after-stop", place, mover=mover)
                if (phase.rests_m, phase.rests_at) != (None, None):
                    _check_way_to(draft, place, mover, phases[index - 1] if index else None)
            case "ramp":
                _check_direction(draft, place, mover, phase, speed)
                fastest = phase.to.lo if not phase.to.fixed else phase.to.hi
                if fastest > limits.speed_mps:
                    _too_fast(draft, (*place, "ramp", "to"), mover, fastest, limits)
            case _:
                assert_never(phase.kind)
        if PHASES[phase.kind].changes_speed:
            if index and phases[index - 1].kind == "stop":
                draft.fault("scenario.after-stop", place, mover=mover)
            speed = phase.to


def _check_way_to(draft: Draft, place: Keys, mover: str, before: Phase | None) -> None:
    """A stop at a place needs a hold before it whose length is open: it is what brings it there."""
    ended = before is not None and any(
        one is not None
        for one in (before.for_s, before.for_m, before.until, before.until_lateral_mps2)
    )
    if before is None or before.kind != "hold" or ended:
        draft.fault("scenario.stop-without-way", (*place, "stop", "at"), mover=mover)


def _check_rates(draft: Draft, place: Keys, mover: str, phase: Phase, limits: Limits) -> None:
    """A phase's own rates can only be tighter than the mover's limits."""
    accels = [accel for _, accel in limits.accelerate]
    jerk = limits.jerk_mps3
    for key, rate, limit, unit in (
        ("accelerate", phase.accelerate_mps2, max(accels), "m/s2"),
        ("brake", phase.brake_mps2, limits.brake_mps2, "m/s2"),
        ("jerk", phase.jerk_mps3, jerk, "m/s3"),
    ):
        if rate is not None and rate > limit:
            _over_limit(draft, (*place, phase.kind, key), mover, key, (rate, limit), unit)
    # What is chosen from a range must be possible at all speeds; its upper end is cut to what is.
    for key, span, limit in (
        ("accelerate", phase.accelerate, min(accels)),
        ("brake", phase.brake, limits.brake_mps2),
    ):
        if span is not None and span.lo > limit:
            _over_limit(draft, (*place, phase.kind, key), mover, key, (span.lo, limit), "m/s2")


def check_usual(draft: Draft, mover: str, usual: w.UsualWritten | None, limits: Limits) -> None:
    """Usual rates can only be tighter than the mover's limits."""
    if usual is None:
        return
    for key, rate, limit in (
        ("accelerate", usual.accelerate, max(accel for _, accel in limits.accelerate)),
        ("brake", usual.brake, limits.brake_mps2),
    ):
        if rate is not None and rate > limit:
            keys = ("movers", mover, "usual", key)
            _over_limit(draft, keys, mover, key, (rate, limit), "m/s2")


def _over_limit(
    draft: Draft, keys: Keys, mover: str, key: str, rates: tuple[float, float], unit: str
) -> None:
    """rates: what is written and the limit, in `unit`."""
    draft.fault(
        "scenario.rate-over-limit",
        keys,
        related=[("movers", mover, "limits", key)],
        mover=mover,
        key=key,
        limited=key,
        wanted=f"{rates[0]:g} {unit}",
        limit=f"{rates[1]:g} {unit}",
    )


def _check_direction(draft: Draft, place: Keys, mover: str, phase: Phase, before: Span) -> None:
    """Between two given speeds a ramp goes one way; the rate of the other way would do nothing."""
    if not (before.fixed and phase.to.fixed) or before == phase.to:
        return
    faster = phase.to.lo > before.lo
    key, other = ("brake", "accelerate") if faster else ("accelerate", "brake")
    given = (phase.brake_mps2, phase.brake) if faster else (phase.accelerate_mps2, phase.accelerate)
    if given == (None, None):
        return
    draft.fault(
        "scenario.wrong-rate",
        (*place, "ramp", key),
        mover=mover,
        key=key,
        other=other,
        way="speeds up" if faster else "slows down",
        before=short_kmh(before.lo),
        to=short_kmh(phase.to.lo),
    )


def _too_fast(draft: Draft, keys: Keys, mover: str, speed_mps: float, limits: Limits) -> None:
    draft.fault(
        "scenario.too-fast",
        keys,
        related=[("movers", mover, "limits", "speed")],
        mover=mover,
        wanted=short_kmh(speed_mps),
        limit=short_kmh(limits.speed_mps),
    )
