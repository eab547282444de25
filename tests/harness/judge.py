"""Can it be done? An answer that shares no line with choreo.

What is left to choose in a scenario is little: start stations, launch times, how long holds last, where triggers
are set, and of each ramp how much time it spends beyond the quickest one (see ramps.py: that is all that matters
of its shape). All conditions are linear in these, so the largest slack that all of them can have together
decides: clearly above zero is possible, clearly below is impossible, near zero is too close to call.
Every `possible` comes with a motion that witness.py can drive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.harness.linear import most_slack
from tests.harness.ramps import Profile, even_ramps, quickest, time_to_close
from tests.harness.records import Case, Contact, Gap, Mover, Phase, Rear, Trigger
from tests.harness.witness import Drive, Part, touches, witness_faults

# Slack (m or s) below which the judge does not decide.
CLOSE = 1e-5
ROUNDING = 1e-7
POSSIBLE, UNEVEN, IMPOSSIBLE, CLOSE_CALL = "possible", "by uneven ramps", "impossible", "close"
UNKNOWNS = 90


@dataclass(frozen=True)
class RampChoice:
    """A ramp in a motion: seconds at its first speed, the quickest change, seconds at its last speed."""

    profile: Profile
    before: np.ndarray
    after: np.ndarray
    crawl_m: np.ndarray


@dataclass
class Motion:
    """Start, launch and phases of a mover as rows over the unknowns."""

    start: np.ndarray
    launch: np.ndarray
    phases: list[tuple[Phase, np.ndarray, np.ndarray, float, RampChoice | None]] = field(
        default_factory=list
    )
    end_s: np.ndarray | None = None
    end_m: np.ndarray | None = None


class Rows:
    """Unknowns and conditions; an expression is an array of coefficients with the constant last."""

    def __init__(self) -> None:
        self.used = 0
        self.least: list[np.ndarray] = []
        self.equal: list[np.ndarray] = []

    def unknown(self, low: float | None = None) -> np.ndarray:
        """A new unknown, at least low."""
        one = np.zeros(UNKNOWNS + 1)
        one[self.used] = 1.0
        self.used += 1
        if low is not None:
            self.least.append(one - self.const(low))
        return one

    @staticmethod
    def const(value: float) -> np.ndarray:
        one = np.zeros(UNKNOWNS + 1)
        one[-1] = value
        return one

    def inside(self, what: np.ndarray, span: tuple[float, float], rate: float = 1.0) -> None:
        """span.lo <= what / rate <= span.hi."""
        low, high = span
        if low == high:
            self.equal.append(what - self.const(low * rate))
            return
        if math.isfinite(low):
            self.least.append(what - self.const(low * rate))
        if math.isfinite(high):
            self.least.append(self.const(high * rate) - what)

    def solve(self, wish: np.ndarray | None = None) -> tuple[float, np.ndarray]:
        keep = [*range(self.used), UNKNOWNS]
        rows = np.array(self.least)[:, keep]
        equal = np.array(self.equal)[:, keep] if self.equal else np.zeros((0, self.used + 1))
        if wish is not None:
            return most_slack(rows, equal, cap=0.01, wish=wish[keep[:-1]])
        return most_slack(rows, equal)


class Staging:
    """All rows of a case. plain: ramps from even_ramps only, else every monotone ramp."""

    def __init__(self, case: Case, *, plain: bool = False) -> None:
        self.case, self.plain, self.rows = case, plain, Rows()
        self.motions: dict[str, Motion] = {}
        self.contact_s: dict[str, np.ndarray] = {}
        self.acts_s: dict[str, np.ndarray] = {}
        self.crossing: dict[str, tuple[np.ndarray, np.ndarray]] = {}
        for mover in case.movers:
            self.motions[mover.name] = self._motion(mover)
        for one in case.encounters:
            self._encounter(one)
        for trigger in case.triggers:
            self._trigger(trigger)
        for mover in case.movers:
            self._ties(mover)

    def _motion(self, mover: Mover) -> Motion:
        rows = self.rows
        length = mover.path.length_m
        low, high = max(mover.start[0], 0.0), min(mover.start[1], length)
        start = rows.const(low) if low == high else rows.unknown()
        if low != high:
            rows.inside(start, (low, high))
        motion = Motion(start, rows.unknown(0.0))
        time, way, speed = motion.launch, motion.start, mover.start_mps
        for phase in mover.phases:
            begin, choice = (time, way), None
            if phase.kind == "hold":
                lasts = rows.unknown(0.0)
                if phase.for_s is not None:
                    rows.equal.append(lasts - rows.const(phase.for_s))
                if phase.for_m is not None:
                    rows.equal.append(speed * lasts - rows.const(phase.for_m))
                time, way = time + lasts, way + speed * lasts
            elif phase.kind in ("ramp", "stop"):
                to = phase.to_mps if phase.kind == "ramp" else 0.0
                lasts, covers, choice = self._ramp(mover, phase, speed, to, motion)
                time, way, speed = time + lasts, way + covers, to
            motion.phases.append((phase, *begin, speed, choice))
        motion.end_s, motion.end_m = time, way
        rows.least.append(rows.const(length) - way)
        if math.isfinite(mover.stroke_m):
            rows.least.append(rows.const(mover.stroke_m) - way + start)
        return motion

    def _ramp(
        self, mover: Mover, phase: Phase, first: float, to: float, motion: Motion
    ) -> tuple[np.ndarray, np.ndarray, RampChoice]:
        rows = self.rows
        table = mover.table if to > first else ((0.0, mover.brake_mps2),)
        rate, jerk = phase.rate_mps2, mover.jerk_mps3
        zero = rows.const(0.0)
        if rate is not None or phase.kind == "stop":
            rate = rate or mover.brake_mps2
            if phase.build_up_s is not None:
                if rate / phase.build_up_s > jerk:
                    rows.equal.append(rows.const(rate / phase.build_up_s - jerk))
                profile = quickest(
                    first, to, ((0.0, rate),), rate / phase.build_up_s, end_jerk=jerk
                )
            else:
                profile = quickest(first, to, ((0.0, rate),), jerk)
            choice = RampChoice(profile, zero, zero, zero)
            return rows.const(profile.lasts_s), rows.const(profile.covers_m), choice
        profile = quickest(first, to, table, jerk)
        before, after = rows.unknown(0.0), rows.unknown(0.0)
        lasts = before + after + rows.const(profile.lasts_s)
        covers = first * before + to * after + rows.const(profile.covers_m)
        if self.plain:
            self._plain(even_ramps(first, to, table, jerk), lasts, covers)
        for exact, what in ((phase.over_m, covers), (phase.lasting_s, lasts)):
            if exact is not None:
                rows.equal.append(what - rows.const(exact))
        if phase.within_m is not None:
            rows.least.append(rows.const(phase.within_m) - covers)
        slow = math.sqrt(mover.lateral_mps2 * mover.path.radius_m) if mover.path.radius_m else 99.0
        crawl = zero
        if slow < to and to > first:
            crawl = self._arc(mover, motion, profile, slow, to)
            covers, lasts = covers + crawl, lasts + crawl / float(profile.speeds[1])
            if self.plain:
                rows.equal.append(crawl)
        return lasts, covers, RampChoice(profile, before, after, crawl)

    def _arc(
        self, mover: Mover, motion: Motion, profile: Profile, slow: float, to: float
    ) -> np.ndarray:
        """Faster than slow only after the arc; gives the way gone at a crawl before, hardly above standing.

        How long that takes plays no part: the launch of movers that drive arcs is free.
        """
        rows = self.rows
        here = int(np.searchsorted(profile.speeds, slow))
        v0, v1 = profile.speeds[here - 1], profile.speeds[here]
        accel = (v1 - v0) / (profile.times[here] - profile.times[here - 1])
        until = float(profile.ways[here - 1] + (slow * slow - v0 * v0) / 2 / accel)
        crawl = rows.unknown(0.0)
        end = mover.path.before_m + mover.path.arc_m
        rows.least.append(motion.start + rows.const(until - end) + crawl)
        return crawl

    def _plain(
        self, ramps: tuple[tuple[float, float], ...], lasts: np.ndarray, covers: np.ndarray
    ) -> None:
        """A mixture of these ramps, which lie on a nearly straight line."""
        rows = self.rows
        total, time, way = rows.const(-1.0), -lasts, -covers
        for one_s, one_m in ramps:
            share = rows.unknown(0.0)
            total, time, way = total + share, time + one_s * share, way + one_m * share
        rows.equal += [total, time, way]

    def _encounter(self, one: Contact | Rear | Gap) -> None:
        case, rows = self.case, self.rows
        a, b = case.mover(one.of), case.mover(one.with_)
        if isinstance(one, Contact):
            at_a = one.cross_m - b.width_m / 2 - a.front_m
            at_b = one.aside_m + (-one.impact_m if one.from_left else one.impact_m)
            # The path of b runs across the lane: coming from the right, left of the middle is further on.
            time = self._hold_end(one.of, one.name)
            rows.equal.append(self._at_hold_end(one.of, one.name) - rows.const(at_a))
            rows.equal.append(self._at_hold_end(one.with_, one.name) - rows.const(at_b))
            rows.equal.append(time - self._hold_end(one.with_, one.name))
            self.contact_s[one.name] = time
        elif isinstance(one, Gap):
            speed = self._speed_in_hold(one.of)
            gap = one.wanted * (speed if one.measure == "time gap" else 1.0)
            if one.at_phase is not None:
                begins, station = self._begin(one.with_, one.at_phase)
            else:
                begins = self.contact_s[one.at_encounter or ""]
                station = self._in_hold(one.with_, begins)
            facing = station - rows.const(b.rear_m)
            front = self._in_hold(one.of, begins) + rows.const(a.front_m)
            rows.equal.append(facing - front - rows.const(gap))
        else:
            self._rear(one, a, b)

    def _rear(self, one: Rear, a: Mover, b: Mover) -> None:
        """a holds its speed; b brakes from the gap's instant on. When the gap is used up is a number."""
        rows = self.rows
        gap = next(g for g in self.case.encounters if isinstance(g, Gap) and g.of == one.of)
        speed = self._speed_in_hold(one.of)
        room = gap.wanted * (speed if gap.measure == "time gap" else 1.0)
        index = next(i for i, p in enumerate(b.phases) if p.name == gap.at_phase)
        _, begins, _, to, choice = self.motions[one.with_].phases[index]
        if choice is None or to != 0.0:
            raise AssertionError(one.name)
        since = time_to_close(choice.profile, speed, room)
        ends = self._hold_end(one.of, one.name)
        rows.equal.append(ends - begins - rows.const(since))
        self.contact_s[one.name] = ends

    def _trigger(self, one: Trigger) -> None:
        rows, mover = self.rows, self.case.mover(one.watch)
        crossing = rows.unknown(0.0)
        station = rows.const(0.0)
        if one.condition == "time":
            rows.inside(crossing, one.setting)
        else:
            index = max(i for i, p in enumerate(mover.phases) if p.kind == "hold")
            tied = [i for i, p in enumerate(mover.phases) if p.until == one.to and one.to]
            index = tied[-1] if tied else index
            phase, begin_s, begin_m, speed, _ = self.motions[one.watch].phases[index]
            rows.least.append(crossing - begin_s - rows.const(phase.settle_s))
            rows.least.append(self._phase_end(one.watch, index) - crossing)
            station = begin_m + speed * (crossing - begin_s)
            if one.condition == "station":
                rows.inside(station, one.setting)
            else:
                left = self._at_hold_end(one.watch, one.to or "") - station
                rows.inside(left, one.setting, speed if one.condition != "distance" else 1.0)
        self.acts_s[one.name] = crossing + rows.const(one.latency_s + 0.5 / one.sampling_hz)
        self.crossing[one.name] = (crossing, station)

    def _ties(self, mover: Mover) -> None:
        rows, motion = self.rows, self.motions[mover.name]
        for index, (phase, begin_s, _, _, _) in enumerate(motion.phases):
            if phase.kind == "wait":
                rows.equal.append(motion.launch - self.acts_s[phase.trigger or ""])
            if phase.kind != "hold" or phase.settle_s <= 0:
                continue
            by = self._phase_end(mover.name, index)
            if phase.settled_by is not None:
                by = self._event(phase.settled_by)
            rows.least.append(by - begin_s - rows.const(phase.settle_s))

    def drives(self, point: np.ndarray) -> dict[str, Drive]:
        """The motions at a point of the unknowns."""

        def value(row: np.ndarray) -> float:
            return float(row[: len(point)] @ point + row[-1])

        found = {}
        for name, motion in self.motions.items():
            parts = []
            ends = [p[1] for p in motion.phases[1:]] + [motion.end_s]
            for (phase, begin_s, _, speed, choice), end in zip(motion.phases, ends, strict=True):
                if phase.kind == "wait":
                    continue
                if choice is None:
                    parts.append(Part(phase, speed, value(end - begin_s)))
                    continue
                before, after = value(choice.before), value(choice.after)
                crawl = value(choice.crawl_m)
                parts.append(Part(phase, speed, 0.0, choice.profile, before, after, crawl))
            crossings = {
                one.name: value(self.crossing[one.name][0])
                for one in self.case.triggers
                if one.watch == name
            }
            found[name] = Drive(value(motion.start), value(motion.launch), parts, crossings)
        return found

    def wishes(self) -> list[np.ndarray]:
        """Directions to look in for motions whose bodies stay apart: the lead late and quick, the subject either."""
        steady: dict[str, np.ndarray] = {}
        for name, motion in self.motions.items():
            ends = [p[1] for p in motion.phases[1:]] + [motion.end_s]
            steady[name] = self.rows.const(0.0)
            for (phase, begin_s, _, _, choice), end in zip(motion.phases, ends, strict=True):
                if phase.kind == "hold":
                    steady[name] = steady[name] + end - begin_s
                elif choice is not None:
                    steady[name] = steady[name] + choice.after
        own, lead = steady["subject"], steady["lead"]
        return [own - 3 * lead, -own - 3 * lead, own + lead]

    def _event(self, text: str) -> Any:
        if text in self.case.instants:
            before, by_s = self.case.instants[text]
            return self._event(before) + self.rows.const(-by_s)
        if text.startswith("start of "):
            mover, phase = text.removeprefix("start of ").split(".")
            return self._begin(mover, phase)[0]
        return self.contact_s[text]

    def _begin(self, mover: str, name: str) -> tuple[np.ndarray, np.ndarray]:
        for phase, begin_s, begin_m, _, _ in self.motions[mover].phases:
            if phase.name == name:
                return begin_s, begin_m
        raise AssertionError(name)

    def _phase_end(self, mover: str, index: int) -> np.ndarray:
        phases = self.motions[mover].phases
        end = self.motions[mover].end_s if index + 1 == len(phases) else phases[index + 1][1]
        if end is None:
            raise AssertionError(mover)
        return end

    def _hold_index(self, mover: str, encounter: str) -> int:
        phases = self.case.mover(mover).phases
        return next(i for i, p in enumerate(phases) if p.until == encounter)

    def _hold_end(self, mover: str, encounter: str) -> np.ndarray:
        return self._phase_end(mover, self._hold_index(mover, encounter))

    def _at_hold_end(self, mover: str, encounter: str) -> np.ndarray:
        return self.motions[mover].phases[self._hold_index(mover, encounter) + 1][2]

    def _speed_in_hold(self, mover: str) -> float:
        return next(p[3] for p in self.motions[mover].phases if p[0].kind == "hold")

    def _in_hold(self, mover: str, time: np.ndarray) -> Any:
        """Station at a time that is inside the mover's first hold (which is made a condition)."""
        phases = self.motions[mover].phases
        index = next(i for i, p in enumerate(phases) if p[0].kind == "hold")
        _, begin_s, begin_m, speed, _ = phases[index]
        rest = self._phase_end(mover, index) - time
        self.rows.least.append(time - begin_s)
        if np.abs(rest).max() > ROUNDING:  # else it is the very end of the hold
            self.rows.least.append(rest)
        return begin_m + speed * (time - begin_s)


def slack_of(case: Case) -> float:
    """The judge's measure: how much room all conditions can have together (m or s)."""
    return Staging(case).rows.solve()[0]


def is_plain(case: Case) -> bool:
    """Can it be done with ramps that use one share of what is allowed throughout?"""
    return Staging(case, plain=True).rows.solve()[0] > -ROUNDING


def judge(case: Case) -> tuple[str, dict[str, Drive]]:
    """POSSIBLE with a motion that can be driven, IMPOSSIBLE, or CLOSE_CALL.

    Where no motion found keeps the bodies apart that should be, the judge does not decide either.
    """
    staging = Staging(case)
    slack, point = staging.rows.solve()
    if slack < -CLOSE:
        return IMPOSSIBLE, {}
    if slack <= CLOSE:
        return CLOSE_CALL, {}
    drives = staging.drives(point)
    if witness_faults(case, drives) and any(m.name == "lead" for m in case.movers):
        for wish in staging.wishes():
            drives = staging.drives(staging.rows.solve(wish)[1])
            if not witness_faults(case, drives):
                break
    return (CLOSE_CALL if touches(case, drives) else POSSIBLE), drives
