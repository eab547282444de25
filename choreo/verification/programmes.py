"""Does each mover do what the scenario's programme says, phase by phase?"""

from __future__ import annotations

import math
from typing import assert_never

import numpy as np

from choreo.plans.record import MoverPlan
from choreo.scenario import Event, Phase, Span
from choreo.verification.drives import check_commands
from choreo.verification.execution import Run
from choreo.verification.integration import Motion
from choreo.verification.ledger import Ledger
from choreo.verification.moments import Moments
from choreo.verification.performing import PhaseSpan
from choreo.verification.script import Script, ScriptPhase
from choreo.verification.sideways import sideways_mps2
from choreo.verification.tolerances import (
    DRIFT,
    GEOMETRIC_TIME_S,
    GO_S,
    JUMP_MPS2,
    LATERAL_MPS2,
    SIDE_M,
    TIME_S,
)
from choreo.words.kinds import PhaseKind
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Ends:
    """A phase as simulated: times in s, stations in m, speeds in m/s at both ends."""

    span: PhaseSpan
    start_m: float
    end_m: float
    start_mps: float
    end_mps: float

    @property
    def lasting_s(self) -> float:
        return self.span.end_s - self.span.start_s

    @property
    def length_m(self) -> float:
        return self.end_m - self.start_m


@dataclass(frozen=True, slots=True)
class Checked:
    """What every check of a phase needs."""

    ledger: Ledger
    mover: str
    phase: ScriptPhase
    ends: Ends
    moments: Moments
    jerk_mps3: float

    def error(self, code: str, key: str, **values: str | float) -> None:
        """Add a finding at one key of the phase."""
        self.ledger.error(
            code,
            "movers",
            self.mover,
            "programme",
            self.phase.index,
            key,
            mover=self.mover,
            phase=self.phase.phase.name,
            **values,
        )


def check_programme(ledger: Ledger, script: Script, planned: MoverPlan, moments: Moments) -> None:
    """Check one mover's launch and phases against the scenario in the nominal run."""
    name, run = script.name, moments.run
    _check_launch(ledger, script, planned, run)
    if script.strays:
        ledger.error(
            "phase-order",
            "movers",
            name,
            "programme",
            mover=name,
            phase=script.strays[0].phase,
            time_s=script.strays[0].start_s,
        )
    motion, spans = run.motions[name], run.spans[name]
    for phase in script.phases:
        span = spans.get(phase.index)
        if span is None or not math.isfinite(span.end_s):
            ledger.error(
                "phase-never-ends",
                "movers",
                name,
                "programme",
                phase.index,
                mover=name,
                phase=phase.phase.name,
            )
            continue
        jerk_mps3 = ledger.scenario.movers[name].limits.jerk_mps3
        checked = Checked(ledger, name, phase, _ends(motion, span), moments, jerk_mps3)
        _check_phase(checked, phase.phase.kind)
    check_commands(ledger, script, planned, run)
    last_mps = motion.last[2]
    if abs(last_mps) > DRIFT:
        ledger.error(
            "not-at-rest", "movers", name, mover=name, speed_mps=last_mps, time_s=motion.end_s
        )
    nodes = [(one.speed_mps, one.from_s) for one in motion.intervals]
    least_mps, least_s = min(*nodes, (last_mps, motion.end_s))
    if least_mps < -DRIFT:
        ledger.error(
            "reverses",
            "movers",
            name,
            mover=name,
            speed_mps=least_mps,
            time_s=least_s,
        )


def _check_launch(ledger: Ledger, script: Script, planned: MoverPlan, run: Run) -> None:
    name = script.name
    if not script.phases:
        return
    launched_s = run.motions[name].launch_s
    expected = script.launch_trigger
    if expected is not None and planned.launched_by != expected:
        ledger.error(
            "launched-by",
            "movers",
            name,
            "programme",
            0,
            mover=name,
            planned=planned.launched_by,
            wanted=expected,
        )
    if expected is None and planned.launch_kind == "trigger":
        ledger.error(
            "launched-by",
            "movers",
            name,
            "programme",
            0,
            mover=name,
            planned=planned.launched_by,
            wanted="go or a time",
        )
    commanded_s = planned.launch_s - script.launch_late_s
    early = commanded_s < -TIME_S
    at_go = planned.launch_kind != "go" or abs(commanded_s) <= GO_S
    if early or not at_go or abs(planned.launch_s - launched_s) > TIME_S:
        ledger.error(
            "launch",
            "movers",
            name,
            "programme",
            0,
            mover=name,
            planned_s=planned.launch_s,
            found_s=launched_s,
        )
    wanted = {
        phase.phase.name: phase.ended_by for phase in script.phases if phase.ended_by is not None
    }
    recorded = {key: value for key, value in planned.ended_by.items() if key in wanted or value}
    if {key: recorded.get(key) for key in wanted if script.holds_in(key)} != {
        key: value for key, value in wanted.items() if script.holds_in(key)
    } or set(recorded) - set(wanted):
        ledger.error(
            "ended-by",
            "movers",
            name,
            "programme",
            mover=name,
            planned=_listed(recorded),
            wanted=_listed(wanted),
        )


def _listed(ended_by: dict[str, str]) -> str:
    return ", ".join(f"{phase} by {name}" for phase, name in ended_by.items()) or "none"


def _ends(motion: Motion, span: PhaseSpan) -> Ends:
    start_m, start_mps = motion.state(span.start_s)
    end_m, end_mps = motion.state(span.end_s)
    return Ends(span, start_m, end_m, start_mps, end_mps)


def _check_phase(checked: Checked, kind: PhaseKind) -> None:
    match kind:
        case "wait":
            _check_wait(checked)
        case "ramp":
            _check_ramp(checked)
        case "hold":
            _check_hold(checked)
        case "stop":
            _check_stop(checked)
        case _:
            assert_never(kind)


def _check_ramp(checked: Checked) -> None:
    phase, ends = checked.phase.phase, checked.ends
    if not phase.to.lo - DRIFT <= ends.end_mps <= phase.to.hi + DRIFT:
        checked.error(
            "ramp-speed", "to", speed_mps=ends.end_mps, least_mps=phase.to.lo, most_mps=phase.to.hi
        )
    if phase.within_m is not None and ends.length_m > phase.within_m + DRIFT:
        checked.error("ramp-length", "within", length_m=ends.length_m, wanted_m=phase.within_m)
    if phase.over_m is not None and abs(ends.length_m - phase.over_m) > DRIFT:
        checked.error("ramp-length", "over", length_m=ends.length_m, wanted_m=phase.over_m)
    if phase.lasting_s is not None and abs(ends.lasting_s - phase.lasting_s) > TIME_S:
        checked.error("ramp-time", "lasting", lasting_s=ends.lasting_s, wanted_s=phase.lasting_s)
    accels = _accels(checked.phase)
    if max(accels) > JUMP_MPS2 and min(accels) < -JUMP_MPS2:
        checked.error("ramp-turns", "to", most_mps2=max(accels), least_mps2=min(accels))
    _check_cap(checked, "accelerate", max(accels), phase.accelerate_mps2)
    _check_cap(checked, "brake", -min(accels), phase.brake_mps2)
    _check_chosen(checked, "accelerate", max(accels), phase.accelerate)
    _check_chosen(checked, "brake", -min(accels), phase.brake)
    jerks = [abs(jerk) for jerk in checked.phase.jerks_mps3]
    _check_cap(checked, "jerk", max(jerks, default=0.0), phase.jerk_mps3)
    if phase.build_up_s is not None:
        _check_build_up(checked, phase)


def _check_chosen(checked: Checked, key: str, most_mps2: float, rates: Span | None) -> None:
    """A rate chosen from a range: never over its upper end, and no longer than at its lower end."""
    phase, ends = checked.phase.phase, checked.ends
    change_mps = (ends.end_mps - ends.start_mps) * (1.0 if key == "accelerate" else -1.0)
    if rates is None or change_mps <= 0.0:
        return
    if math.isfinite(rates.hi):
        _check_cap(checked, key, most_mps2, rates.hi)
    if rates.lo <= 0.0:
        return
    jerk = min(phase.jerk_mps3 or math.inf, checked.jerk_mps3)
    build_up_s = rates.lo / jerk if phase.build_up_s is None else phase.build_up_s
    release_s = rates.lo / jerk
    # Growing, held, falling: the held part is what is left of the change of speed.
    held_s = change_mps / rates.lo - (build_up_s + release_s) / 2
    longest_s = build_up_s + held_s + release_s
    if held_s < 0.0:  # never full: both parts shrink alike
        share = math.sqrt(2 * change_mps / rates.lo / (build_up_s + release_s))
        longest_s = (build_up_s + release_s) * share
    if ends.lasting_s > longest_s + TIME_S * max(1.0, longest_s):
        checked.error("rate-least", key, lasting_s=ends.lasting_s, longest_s=longest_s)


def _accels(phase: ScriptPhase) -> list[float]:
    """Accelerations at both ends of every command: their extremes, as they are linear between."""
    commands = zip(phase.durations_s, phase.accels_mps2, phase.jerks_mps3, strict=True)
    values = [value for d, a, j in commands if d > 0 for value in (a, a + j * d)]
    return values or [0.0]


def _check_cap(checked: Checked, key: str, value: float, cap: float | None) -> None:
    if cap is None:
        return
    checked.ledger.use(value / cap)
    if value > cap + DRIFT * max(1.0, cap):
        checked.error("phase-cap", key, what=key, value=value, cap=cap)


def _check_build_up(checked: Checked, phase: Phase) -> None:
    """Never quicker than in proportion to the time since the phase began, and full when it is over.

    Full is the rate that the phase gives, else the most it reaches; a small change of speed may never need all of it.
    """
    most = max(map(abs, _accels(checked.phase)))
    build_up_s = phase.build_up_s or 0.0
    full = phase.brake_mps2 or phase.accelerate_mps2 or most
    since, reached = 0.0, 0.0
    commands = checked.phase
    for d, a, j in zip(
        commands.durations_s, commands.accels_mps2, commands.jerks_mps3, strict=True
    ):
        for u, accel in ((since, a), (since + d, a + j * d)):
            allowed = full * min(1.0, u / build_up_s)
            if d > 0 and abs(accel) > allowed + DRIFT * max(1.0, full):
                checked.error("build-up", "build up", time_s=u, value=abs(accel), allowed=allowed)
                return
        if since - TIME_S <= build_up_s <= since + d + TIME_S:
            reached = max(reached, abs(a + j * min(max(build_up_s - since, 0.0), d)))
        since += d
    if since > build_up_s and reached < most - DRIFT * max(1.0, full) and most >= full - DRIFT:
        checked.error("build-up", "build up", time_s=build_up_s, value=reached, allowed=full)


def _check_hold(checked: Checked) -> None:
    phase, ends = checked.phase.phase, checked.ends
    wobble = max(map(abs, _accels(checked.phase)))
    if wobble > JUMP_MPS2 or abs(ends.end_mps - ends.start_mps) > DRIFT:
        checked.error(
            "hold-speed", "settle", change_mps=ends.end_mps - ends.start_mps, accel_mps2=wobble
        )
    if phase.for_s is not None and abs(ends.lasting_s - phase.for_s) > TIME_S:
        checked.error("hold-time", "for", lasting_s=ends.lasting_s, wanted_s=phase.for_s)
    if phase.for_m is not None and abs(ends.length_m - phase.for_m) > DRIFT:
        checked.error("hold-length", "for", length_m=ends.length_m, wanted_m=phase.for_m)
    if phase.until is not None:
        _check_until(checked, phase.until)
    if phase.until_lateral_mps2 is not None:
        _check_until_lateral(checked, phase.until_lateral_mps2)
    steady_s, key = ends.lasting_s, "settle"
    slack_s = TIME_S
    if phase.settled_by is not None:
        slack_s, key = _tolerance_s(phase.settled_by), "settled by"
        event_s = checked.moments.event_s(phase.settled_by)
        # After the hold has ended nothing is steady any more, however long it was.
        steady_s = event_s - ends.span.start_s if event_s <= ends.span.end_s + slack_s else 0.0
    if steady_s < phase.settle_s - slack_s:
        checked.error("not-settled", key, steady_s=max(steady_s, 0.0), wanted_s=phase.settle_s)


def _check_until_lateral(checked: Checked, wanted_mps2: float) -> None:
    """The curve has come to it there, on one side at least where curvature jumps."""
    path, ends = checked.moments.scene.paths[checked.mover], checked.ends
    beside = np.array([ends.end_m - SIDE_M, ends.end_m, ends.end_m + SIDE_M])
    found = sideways_mps2(path, beside, np.full(3, ends.end_mps))
    if not found.min() - LATERAL_MPS2 <= wanted_mps2 <= found.max() + LATERAL_MPS2:
        checked.error("hold-lateral", "until", found_mps2=float(found[1]), wanted_mps2=wanted_mps2)


def _check_until(checked: Checked, until: Event) -> None:
    event_s = checked.moments.event_s(until) + checked.phase.late_s
    if not math.isfinite(event_s):
        checked.error("event-never", "until", event=_event_text(until))
    elif abs(event_s - checked.ends.span.end_s) > _tolerance_s(until):
        checked.error(
            "hold-until",
            "until",
            event=_event_text(until),
            event_s=event_s,
            end_s=checked.ends.span.end_s,
        )


def _tolerance_s(event: Event) -> float:
    """How near in s the end of a hold must be to its event: what geometry finds carries geometry's accuracy."""
    match event.kind:
        case "trigger" | "launch" | "phase start" | "phase end":
            return TIME_S
        case "encounter" | "instant" | "mark start" | "mark end":
            return GEOMETRIC_TIME_S
        case _:
            assert_never(event.kind)


def _event_text(event: Event) -> str:
    where = ".".join(part for part in (event.mover, event.name) if part)
    return f"{event.kind} {where}".strip()


def _check_stop(checked: Checked) -> None:
    if abs(checked.ends.end_mps) > DRIFT:
        checked.error("stop-speed", "brake", speed_mps=checked.ends.end_mps)
    wanted_m = _rest_m(checked)
    if wanted_m is not None and abs(checked.ends.end_m - wanted_m) > DRIFT:
        checked.error("stop-place", "at", station_m=checked.ends.end_m, wanted_m=wanted_m)
    accels = _accels(checked.phase)
    if max(accels) > JUMP_MPS2:
        checked.error("ramp-turns", "brake", most_mps2=max(accels), least_mps2=min(accels))
    _check_cap(checked, "brake", -min(accels), checked.phase.phase.brake_mps2)


def _rest_m(checked: Checked) -> float | None:
    """The station at which a stop is to end."""
    phase = checked.phase.phase
    mark = phase.rests_at
    if mark is None:
        return phase.rests_m
    start_m, end_m = checked.moments.scene.paths[checked.mover].marks[mark.name or ""]
    return start_m if mark.kind == "mark start" else end_m


def _check_wait(checked: Checked) -> None:
    if max(map(abs, _accels(checked.phase))) > JUMP_MPS2 or abs(checked.ends.start_mps) > DRIFT:
        checked.error("wait-moves", "for", speed_mps=checked.ends.start_mps)
    wanted_s, lasting_s = checked.phase.phase.lasting_s, checked.ends.lasting_s
    if wanted_s is not None and abs(lasting_s - wanted_s) > TIME_S:
        checked.error("wait-time", "lasting", lasting_s=lasting_s, wanted_s=wanted_s)
