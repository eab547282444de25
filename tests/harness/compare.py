"""Ask choreo and the judge about the same scenario, and count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from choreo.case import answer, case_at
from choreo.case.proving import general_conflict, proof_of_impossibility
from choreo.problem import Staging, build_staging
from choreo.scenario import loads
from choreo.words import ChoreoError
from tests.harness.everyday import Everyday, everyday
from tests.harness.generator import make
from tests.harness.judge import CLOSE_CALL, IMPOSSIBLE, POSSIBLE, UNEVEN, is_plain, judge
from tests.harness.records import Case, text_of

FEASIBLE, INFEASIBLE, UNDECIDED = "feasible", "infeasible", "undecided"
REFUSED, CRASHED = "refused", "crashed"
FILE = "random.yaml"
# What is known of an everyday scenario, by its variant.
KNOWN = {"possible": POSSIBLE, "impossible": IMPOSSIBLE, "shifted": CLOSE_CALL}
Answer = Callable[[str], tuple[str, str]]


@dataclass(frozen=True)
class Outcome:
    """A scenario, what the judge says and what choreo says."""

    case: Case | Everyday
    judged: str
    verdict: str
    detail: str = ""

    @property
    def wrong(self) -> bool:
        return is_wrong(self.judged, self.verdict)

    @property
    def weak(self) -> bool:
        """Undecided although it can be done by even ramps, or although nothing is free."""
        return self.verdict == UNDECIDED and (self.judged == POSSIBLE or self.rigid)

    @property
    def rigid(self) -> bool:
        """Whether every rate is given."""
        return isinstance(self.case, Everyday) and self.case.rigid

    @property
    def text(self) -> str:
        """The scenario file."""
        return self.case.text if isinstance(self.case, Everyday) else text_of(self.case)


def is_wrong(judged: str, verdict: str) -> bool:
    """Feasible where it is impossible, infeasible or refused where it is possible, or a crash."""
    if verdict == CRASHED:
        return True
    if verdict == FEASIBLE:
        return judged == IMPOSSIBLE
    return verdict in (INFEASIBLE, REFUSED) and judged in (POSSIBLE, UNEVEN)


@dataclass
class Count:
    """Outcomes by family, and those worth looking at."""

    cells: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    wrong: list[Outcome] = field(default_factory=list)
    weak: list[Outcome] = field(default_factory=list)

    def add(self, outcome: Outcome) -> None:
        self.cells[outcome.case.family, outcome.judged, outcome.verdict] += 1
        if outcome.wrong:
            self.wrong.append(outcome)
        if outcome.weak:
            self.weak.append(outcome)

    @property
    def total(self) -> int:
        return sum(self.cells.values())

    def share(self, judged: str, verdict: str) -> float:
        """Share of all scenarios."""
        found = sum(n for (_, j, v), n in self.cells.items() if (j, v) == (judged, verdict))
        return found / max(1, self.total)


def verdict_of(text: str) -> tuple[str, str]:
    """What choreo says, and the first line of why."""
    return _asked(text, lambda staging: None)


def quick_verdict_of(text: str) -> tuple[str, str]:
    """The same, taking choreo's proofs at their word before it looks for a plan all the same."""
    return _asked(text, lambda staging: next(_proofs(staging), None))


def proofs_against(text: str) -> list[str]:
    """Titles of all that choreo takes for a proof of impossibility, whether it needs one or not."""
    return list(_proofs(build_staging(loads(text, FILE, Path()))))


def _proofs(staging: Staging) -> Iterator[str]:
    yield from (one.title for one in proof_of_impossibility(staging))
    yield from (one.title for one in general_conflict(staging))


def _asked(text: str, shortcut: Callable[[Staging], str | None]) -> tuple[str, str]:
    try:
        case = case_at(loads(text, FILE, Path()), None)
        proof = shortcut(case.staging)
        if proof is not None:
            return INFEASIBLE, proof
        plan = answer(case).plan
    except ChoreoError as error:
        return REFUSED, "; ".join(finding.text for finding in error.findings)
    except Exception as error:  # any other is a defect, to be told with its seed
        return CRASHED, f"{type(error).__name__}: {error}"
    why = plan.budgets[0].title if plan.budgets else ""
    if plan.verdict == UNDECIDED and plan.conflicts:
        worst = plan.conflicts[0]
        why = f"{worst.name} {worst.amount} {worst.unit}"
    return plan.verdict, why


def outcome_of(seed: int, answer: Answer = verdict_of) -> Outcome:
    """Make the scenario of a seed, judge it, ask, and sort possible ones that are left undecided."""
    case = make(seed)
    judged, _ = judge(case)
    verdict, detail = answer(text_of(case))
    if judged == POSSIBLE and verdict == UNDECIDED and not is_plain(case):
        judged = UNEVEN
    return Outcome(case, judged, verdict, detail)


def everyday_outcome_of(seed: int, answer: Answer = verdict_of) -> Outcome:
    """Make the everyday scenario of a seed, of which is known what can be known, and ask."""
    case = everyday(seed)
    verdict, detail = answer(case.text)
    return Outcome(case, KNOWN[case.variant], verdict, detail)


def count(
    seeds: Iterable[int],
    answer: Answer = verdict_of,
    outcome: Callable[[int, Answer], Outcome] = outcome_of,
) -> Count:
    """Outcomes of many seeds."""
    found = Count()
    for seed in seeds:
        found.add(outcome(seed, answer))
    return found


def table(found: Count) -> str:
    """Counts by family, judge and verdict."""
    verdicts = (FEASIBLE, INFEASIBLE, UNDECIDED, REFUSED, CRASHED)
    lines = [f"{'family':28}{'judge':20}" + "".join(f"{one:>12}" for one in verdicts)]
    for family in sorted({key[0] for key in found.cells}):
        for judged in (POSSIBLE, UNEVEN, CLOSE_CALL, IMPOSSIBLE):
            cells = [found.cells[family, judged, one] for one in verdicts]
            if any(cells):
                lines.append(f"{family:28}{judged:20}" + "".join(f"{n:12}" for n in cells))
    return "\n".join(lines)
