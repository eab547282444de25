"""The plan in which an open quantity is highest or lowest: a search over neighbouring cases.

From a plan that works the value is moved towards the end of what is allowed. Looked at are that end and even steps back
from it; between the best that works and the next that doesn't the interval is halved. What works at places between two
looks that don't is overlooked, and the answer says how fine the looks were.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from choreo.case.answering import answer, patience_of
from choreo.case.answers import Answer, Progress
from choreo.case.choices import Open, open_quantity
from choreo.case.record import Case
from choreo.case.steadiest import steadiest_answer
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.record import Conflict, Preferred
from choreo.problem.patience import Patience
from choreo.words.display import quantity
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

# To this a value is found, in SI.
FINE: Mapping[Unit, float] = {"m": 0.01, "m/s": 0.01 / 3.6, "m/s2": 0.01, "m/s3": 0.01, "s": 0.001}
# Between a plan that works and the end of what is allowed so many values are looked at.
LOOKS = 6
# An open end is looked for by doubling, no farther than this (SI).
FARTHEST = 1e4


def preferred_answer(
    case: Case, *, progress: Progress | None = None, patience: Patience | None = None
) -> Answer:
    """Answer a case; where its author prefers a quantity highest or lowest, with the plan that has it so.

    patience: how long a plan is looked for, instead of progress. Raises ChoreoError: what answer raises, and a
    preferred quantity that isn't there or isn't open.
    """
    patience = patience or patience_of(progress)
    extreme = case.scenario.extreme
    if case.scenario.prefer == "smallest error":
        return steadiest_answer(case, progress=progress)
    if extreme is None:
        return answer(case, patience=patience)
    wanted = open_quantity(case.scenario, extreme)
    first = answer(case, patience=patience)
    if not first.feasible:
        return first
    patience.step(f"{extreme.which} {extreme.name}")
    sign = 1.0 if extreme.which == "highest" else -1.0
    if not wanted.alike(first.plan, FINE[wanted.unit] / LOOKS):
        first = _one_value(case, wanted, (sign, patience), first)
        if not first.feasible:
            return first
    found = _Search(case, wanted, sign, patience).run(first)
    told = Preferred(
        extreme.which,
        wanted.name,
        found.value,
        wanted.unit,
        FINE[wanted.unit],
        found.step,
        found.beyond,
        found.why(wanted.unit),
        () if found.stopped is None else found.stopped.plan.budgets,
    )
    fingerprint = fingerprint_of(case.scenario.meaning())
    plan = replace(found.best.plan, fingerprint=fingerprint, preferred=told)
    return Answer(case, plan, found.best.solved)


def _one_value(case: Case, wanted: Open, how: tuple[float, Patience], first: Answer) -> Answer:
    """The first answer in which a named value is the same in all its places, from the wanted end on.

    Without one among a few looks it is not decided: there may be one in between.
    """
    sign, patience = how
    low, high = wanted.span.lo, min(wanted.span.hi, FARTHEST)
    ends = (high, low) if sign > 0 else (low, high)
    for look in range(LOOKS + 1):
        value = ends[0] + (ends[1] - ends[0]) * look / LOOKS
        found = answer(
            case.changed(wanted.put(case.scenario, value)), near=first, patience=patience
        )
        if found.feasible:
            return found
    missed = Conflict(
        f"no value of {wanted.name} was found that works in all its places", None, "", None
    )
    empty = replace(first.plan, movers={}, triggers={}, encounters={}, instants={})
    return Answer(case, replace(empty, verdict="undecided", conflicts=(missed,)))


@dataclass(frozen=True)
class _Found:
    """The best answer and its value; the value beyond that doesn't work (None: the end is reached), and its answer.

    proved: a value farther on that is proven impossible, where the one beyond is not.
    """

    best: Answer
    value: float
    beyond: float | None
    stopped: Answer | None
    step: float
    proved: float | None = None

    def why(self, unit: Unit) -> str:
        """What stops it from going further."""
        if self.stopped is None:
            return "it is at the end of what the file allows"
        if self.stopped.plan.verdict == "infeasible":
            return "beyond it no plan exists"
        words = "beyond it no plan was found, without proof that there is none"
        return (
            words
            if self.proved is None
            else f"{words}; at {quantity(self.proved, unit)} there is a proof"
        )


class _Search:
    def __init__(self, case: Case, wanted: Open, sign: float, patience: Patience) -> None:
        self.patience = patience
        self.case = case
        self.wanted = wanted
        self.sign = sign

    def run(self, first: Answer) -> _Found:
        fine = FINE[self.wanted.unit]
        value = self.wanted.chosen(first.plan)
        best, stopped, beyond, proved = first, None, None, None
        end = self._end(value, first)
        step = abs(end - value) / LOOKS
        for look in range(LOOKS if step > fine / LOOKS else 0):
            at = end - self.sign * step * look
            tried = self._at(at, best)
            if tried.feasible:
                best, value = tried, at
                break
            stopped, beyond = tried, at
            proved = at if tried.plan.verdict == "infeasible" else proved
        while beyond is not None and abs(beyond - value) > fine:
            at = (value + beyond) / 2.0
            tried = self._at(at, best)
            if tried.feasible:
                best, value = tried, at
            else:
                stopped, beyond = tried, at
                proved = at if tried.plan.verdict == "infeasible" else proved
        return _Found(
            best, value, beyond, stopped, step, self._proved(beyond, stopped, proved, best)
        )

    def _proved(
        self, beyond: float | None, stopped: Answer | None, proved: float | None, near: Answer
    ) -> float | None:
        """The nearest value that is proven impossible, where the one just beyond is not; None: none was met."""
        if (
            beyond is None
            or proved is None
            or stopped is None
            or stopped.plan.verdict == "infeasible"
        ):
            return None
        while abs(proved - beyond) > FINE[self.wanted.unit] * LOOKS:
            at = (beyond + proved) / 2.0
            if self._at(at, near).plan.verdict == "infeasible":
                proved = at
            else:
                beyond = at
        return proved

    def _at(self, value: float, near: Answer) -> Answer:
        changed = self.case.changed(self.wanted.put(self.case.scenario, value))
        return answer(changed, near=near, patience=self.patience)

    def _end(self, value: float, first: Answer) -> float:
        """The end of what is allowed; of what is open, a value that doesn't work any more."""
        end = self.wanted.span.hi if self.sign > 0 else self.wanted.span.lo
        if math.isfinite(end):
            return end
        reach = max(abs(value), 1.0)
        while reach < FARTHEST:
            end = value + self.sign * reach
            if not self._at(end, first).feasible:
                break
            reach *= 2.0
        return end
