"""Run after run: when the next one can begin, and what has to be done before it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from choreo.campaigns.day.hours import DAY_S
from choreo.campaigns.day.records import Entry, Job, Rules, Upkeep
from choreo.words.records import dataclass

# Ways (m) and times (s) that differ by less are the same.
ROUNDING = 1e-6


class Used(NamedTuple):
    """What of one mover is used up: way (m), runs and hits since it was seen to, runs since it rested."""

    way_m: float = 0.0
    strokes: int = 0
    runs: int = 0
    hits: int = 0


class State(NamedTuple):
    """Between two runs: the last one's end and return, the staging that stands, what is used up.

    used: of each mover that the rules have an upkeep for, in their order. end_s: None before the first run.
    """

    end_s: float | None
    back_s: float
    staging: int | None
    used: tuple[Used, ...]


def morning(rules: Rules) -> State:
    """Before the first run: all is fresh, and the first staging stands."""
    return State(None, rules.hours.from_s, None, (Used(),) * len(rules.upkeep))


@dataclass(frozen=True, slots=True)
class _Wear:
    """What one run takes of one mover."""

    name: str
    keep: Upkeep
    way_m: float
    moves: int
    hits: int

    def tired(self, used: Used) -> bool:
        """Whether it must have rested before this run."""
        after = self.keep.cool_after
        return after is not None and self.moves > 0 and used.runs >= after

    def swap(self, used: Used) -> bool:
        """Whether it must be swapped before this run."""
        keep = self.keep
        if keep.battery_m is not None and used.way_m + self.way_m > keep.battery_m + ROUNDING:
            return True
        return keep.strokes is not None and used.strokes + self.moves > keep.strokes

    def inspect(self, used: Used) -> bool:
        """Whether it must be inspected before this run."""
        after = self.keep.inspect_after
        return after is not None and used.hits + self.hits > after

    def after(self, used: Used, *, swapped: bool, inspected: bool, rested: bool) -> Used:
        """What is used up after this run; only what its upkeep counts."""
        keep = self.keep
        return Used(
            0.0 if keep.battery_m is None else self.way_m + (0.0 if swapped else used.way_m),
            0 if keep.strokes is None else self.moves + (0 if swapped else used.strokes),
            0 if keep.cool_after is None else self.moves + (0 if rested else used.runs),
            0 if keep.inspect_after is None else self.hits + (0 if inspected else used.hits),
        )


class Driving:
    """The runs of a campaign under the rules of a track."""

    def __init__(self, rules: Rules, jobs: Sequence[Job]) -> None:
        self.rules = rules
        self.jobs = jobs
        self.wear = [
            [
                _Wear(
                    name, keep, way_m := job.ways_m.get(name, 0.0), way_m > 0.0, name in job.touched
                )
                for name, keep in rules.upkeep.items()
            ]
            for job in jobs
        ]

    def next(self, state: State, index: int, number: int) -> tuple[State, Entry]:
        """Drive one run as early as the rules allow. number: which try it is.

        What a mover needs is done when the next run would be too much, or earlier where other work gives the time
        anyway. After a night all is fresh, and the staging stands that is needed. Raises ValueError: the run is longer
        than any stretch without a pause.
        """
        job, hours, rules = self.jobs[index], self.rules.hours, self.rules
        if state.end_s is None:
            start_s = hours.fits_at(state.back_s, job.length_s)
            return self._fresh(index, number, start_s)
        wear = self.wear[index]
        restages = state.staging != job.staging
        work_s = rules.restage_s if restages else 0.0
        cooling_s = rules.least_gap_s
        done = []
        for one, used in zip(wear, state.used, strict=True):
            swap, inspect = one.swap(used), one.inspect(used)
            done.append((swap, inspect))
            work_s = max(work_s, one.keep.swap_s * swap, one.keep.inspection_s * inspect)
            if one.tired(used):
                cooling_s = max(cooling_s, one.keep.cool_s)
        ready_s = hours.after_work(state.back_s, work_s)
        start_s = hours.fits_at(max(ready_s, state.end_s + cooling_s), job.length_s)
        if start_s // DAY_S > state.end_s // DAY_S:
            start_s = hours.fits_at(start_s // DAY_S * DAY_S, job.length_s)
            return self._fresh(index, number, start_s)
        gap_s = start_s - state.end_s
        words = ["restage"] if restages else []
        after = []
        for one, used, (swap, inspect) in zip(wear, state.used, done, strict=True):
            keep = one.keep
            takes_part = one.moves > 0 or one.hits > 0
            spare = takes_part and work_s > 0.0
            swap |= spare and keep.swap_s <= work_s and (used.way_m > 0.0 or used.strokes > 0)
            inspect |= spare and keep.inspection_s <= work_s and used.hits > 0
            words += [f"swap {one.name}"] if swap else []
            words += [f"inspect {one.name}"] if inspect else []
            words += [f"cool {one.name}"] if one.tired(used) else []
            rested = gap_s >= keep.cool_s - ROUNDING
            after.append(one.after(used, swapped=swap, inspected=inspect, rested=rested))
        late = rules.most_gap_s is not None and gap_s > rules.most_gap_s + ROUNDING
        end_s, back_s = start_s + job.duration_s, start_s + job.length_s
        entry = Entry(index, number, start_s, end_s, back_s, tuple(words), late)
        return State(end_s, back_s, job.staging, tuple(after)), entry

    def _fresh(self, index: int, number: int, start_s: float) -> tuple[State, Entry]:
        """The first run of a day."""
        job = self.jobs[index]
        end_s, back_s = start_s + job.duration_s, start_s + job.length_s
        after = tuple(
            one.after(Used(), swapped=True, inspected=True, rested=True) for one in self.wear[index]
        )
        entry = Entry(index, number, start_s, end_s, back_s)
        return State(end_s, back_s, job.staging, after), entry
