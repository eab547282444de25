"""A programme as written -> phases with names, resolved events, and a stop at the end."""

from __future__ import annotations

from dataclasses import replace

from choreo.scenario.making.making import Making, resolved
from choreo.scenario.records.scenario import Limits, Phase, Span
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.words.quantities import QuantityError, parse

KINDS = ("wait", "ramp", "hold", "stop")


def phase_names(written: tuple[w.PhaseWritten, ...]) -> list[str]:
    """Give every phase's name: the author's, or its kind, numbered from the second on."""
    names: list[str] = []
    for phase in written:
        kind = next((kind for kind in KINDS if getattr(phase, kind) is not None), "phase")
        name, number = phase.name or kind, 2
        while phase.name is None and name in names:
            name, number = f"{kind} {number}", number + 1
        names.append(name)
    return names


def programme_of(
    making: Making, mover: str, written: w.MoverWritten, limits: Limits
) -> tuple[Phase, ...]:
    """Make the phases of a mover, and check that they follow each other."""
    keys: Keys = ("movers", mover, "programme")
    names = phase_names(written.programme)
    phases: list[Phase] = []
    for index, phase in enumerate(written.programme):
        choices = {kind: getattr(phase, kind) for kind in KINDS}
        kind = making.one_of((*keys, index), f"phase {index + 1} of {mover}", choices)
        if kind is None:
            continue
        if phase.name is not None and names.count(phase.name) > 1:
            making.fault(
                "scenario.same-name",
                (*keys, index, "name"),
                name=phase.name,
                first="a phase",
                second=f"another phase of {mover}",
            )
        made = _phase(making, (*keys, index, kind), kind, names[index], choices[kind])
        if made is not None:
            phases.append(made)
    if len(phases) == len(
        written.programme
    ):  # what follows what can't be told around a faulty phase
        _check_order(making, keys, mover, written, phases, limits)
    if phases and phases[-1].kind != "stop" and _ends_moving(written, phases):
        name = "stop" if "stop" not in names else "implied stop"
        phases.append(Phase("stop", name, implied=True))
        making.fault("scenario.implied-stop", keys, severity="note", mover=mover)
    return tuple(phases)


def _ends_moving(written: w.MoverWritten, phases: list[Phase]) -> bool:
    speed = Span(0.0, written.start.speed if written.start else 0.0)
    for phase in phases:
        if phase.kind in ("ramp", "stop"):
            speed = phase.to
    return speed.hi > 0


def _phase(making: Making, keys: Keys, kind: str, name: str, written: object) -> Phase | None:
    if isinstance(written, w.WaitWritten):
        return _wait(making, keys, name, written.for_what)
    if isinstance(written, w.HoldWritten):
        return _hold(making, keys, name, written)
    if isinstance(written, w.RampWritten):
        exact = [k for k in ("within", "over") if getattr(written, k) is not None]
        if len(exact) == 2:
            making.fault(
                "scenario.not-together", keys, where="ramp", first="`within`", second="`over`"
            )
        return Phase(
            kind,
            name,
            to=written.to,
            accelerate_mps2=written.accelerate,
            brake_mps2=written.brake,
            jerk_mps3=written.jerk,
            build_up_s=written.build_up,
            within_m=written.within,
            over_m=written.over,
            lasting_s=written.lasting,
        )
    if isinstance(written, w.StopWritten):
        return Phase(kind, name, brake_mps2=written.brake)
    return None


def _wait(making: Making, keys: Keys, name: str, text: str) -> Phase | None:
    if making.names.get(text) == "trigger":
        return Phase("wait", name, for_trigger=text)
    if not text[:1].isdigit():
        triggers = [known for known, kind in making.names.items() if kind == "trigger"]
        making.unknown((*keys, "for"), "trigger", text, triggers)
        return None
    try:
        return Phase("wait", name, for_s=parse(text, "time"))
    except QuantityError as error:
        making.fault(
            "scenario.bad-value",
            (*keys, "for"),
            where="wait > for",
            what=error.wrong,
            instead=error.instead,
        )
        return None


def _hold(making: Making, keys: Keys, name: str, written: w.HoldWritten) -> Phase:
    phase = Phase(
        "hold",
        name,
        settle_s=written.settle,
        settled_by=resolved(making, (*keys, "settled by"), written.settled_by),
        until=resolved(making, (*keys, "until"), written.until),
    )
    if written.for_what is None:
        return phase
    if written.until is not None:
        making.fault("scenario.not-together", keys, where="hold", first="`for`", second="`until`")
    for kind in ("time", "length"):
        try:
            value = parse(written.for_what, kind)
        except QuantityError as error:
            fault = error
            continue
        if kind == "time":
            return replace(phase, for_s=value)
        return replace(phase, for_m=value)
    making.fault(
        "scenario.bad-value",
        (*keys, "for"),
        where="hold > for",
        what=fault.wrong.replace("a length", "a time or a length"),
        instead="Write a time or a length, like `3 s` or `50 m`.",
    )
    return phase


def _check_order(
    making: Making,
    keys: Keys,
    mover: str,
    written: w.MoverWritten,
    phases: list[Phase],
    limits: Limits,
) -> None:
    start = written.start.speed if written.start else 0.0
    speed = Span(start, start)
    if start > limits.speed_mps:
        _too_fast(making, ("movers", mover, "start", "speed"), mover, start, limits)
    for index, phase in enumerate(phases):
        place = (*keys, index)
        _check_rates(making, place, mover, phase, limits)
        if phase.kind == "wait" and speed.hi > 0:
            making.fault("scenario.wait-while-moving", place, mover=mover)
        elif phase.kind == "hold" and speed.hi <= 0:
            making.fault("scenario.hold-at-rest", place, mover=mover)
        elif phase.kind == "stop" and speed.hi <= 0:
            making.fault("scenario.after-stop", place, mover=mover)
        if phase.kind == "ramp":
            _check_direction(making, place, mover, phase, speed)
            fastest = phase.to.lo if not phase.to.fixed else phase.to.hi
            if fastest > limits.speed_mps:
                _too_fast(making, (*place, "ramp", "to"), mover, fastest, limits)
        if phase.kind in ("ramp", "stop"):
            stopped = phases[index - 1].kind == "stop" if index else False
            if stopped:
                making.fault("scenario.after-stop", place, mover=mover)
            speed = phase.to


def _check_rates(making: Making, place: Keys, mover: str, phase: Phase, limits: Limits) -> None:
    """A phase's own rates can only be tighter than the mover's limits."""
    hardest = max(accel for _, accel in limits.accelerate)
    for key, rate, limit, unit in (
        ("accelerate", phase.accelerate_mps2, hardest, "m/s2"),
        ("brake", phase.brake_mps2, limits.brake_mps2, "m/s2"),
        ("jerk", phase.jerk_mps3, limits.jerk_mps3, "m/s3"),
    ):
        if rate is not None and rate > limit:
            making.fault(
                "scenario.rate-over-limit",
                (*place, phase.kind, key),
                related=[("movers", mover, "limits", key)],
                mover=mover,
                key=key,
                wanted=f"{rate:g} {unit}",
                limit=f"{limit:g} {unit}",
            )


def _check_direction(making: Making, place: Keys, mover: str, phase: Phase, before: Span) -> None:
    """Between two given speeds a ramp goes one way; the rate of the other way would do nothing."""
    if not (before.fixed and phase.to.fixed) or before == phase.to:
        return
    faster = phase.to.lo > before.lo
    key, other = ("brake", "accelerate") if faster else ("accelerate", "brake")
    if (phase.brake_mps2 if faster else phase.accelerate_mps2) is None:
        return
    making.fault(
        "scenario.wrong-rate",
        (*place, "ramp", key),
        mover=mover,
        key=key,
        other=other,
        way="speeds up" if faster else "slows down",
        before=f"{before.lo * 3.6:.4g} km/h",
        to=f"{phase.to.lo * 3.6:.4g} km/h",
    )


def _too_fast(making: Making, keys: Keys, mover: str, speed_mps: float, limits: Limits) -> None:
    making.fault(
        "scenario.too-fast",
        keys,
        related=[("movers", mover, "limits", "speed")],
        mover=mover,
        wanted=f"{speed_mps * 3.6:.4g} km/h",
        limit=f"{limits.speed_mps * 3.6:.4g} km/h",
    )
