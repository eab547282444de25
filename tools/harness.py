"""Random scenarios against a brute-force judge: wrong verdicts must be none.

    python tools/harness.py --count 20000 --seed 1 --jobs 2
    python tools/harness.py --count 1 --seed 4711 --keep found      one seed again, its scenario in a folder
    python tools/harness.py --everyday --count 20000 --jobs 2       scenarios round a known motion
    python tools/harness.py --structures --count 300                rarer structures, nothing free, and their twins

Prints counts by family, by what the judge says and by verdict, and every disagreement and every undecided one
with its seed. Wrong is `feasible` where the judge proves the contrary, `infeasible` or a refusal where it has a
plan, and a crash; then the exit code is 1. `undecided` where the judge has a plan is a weakness, elsewhere open.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.harness.compare import UNDECIDED, Count, Outcome, everyday_outcome_of, outcome_of, table  # noqa: E402
from tests.harness.judge import IMPOSSIBLE, POSSIBLE, UNEVEN  # noqa: E402
from tests.harness.structures import faults_of, structure  # noqa: E402

CHUNK = 20


def outcomes(first: int, count: int, jobs: int, *, everyday: bool = False) -> Iterator[Outcome]:
    """Outcomes in the order of their seeds."""
    seeds = range(first, first + count)
    of = everyday_outcome_of if everyday else outcome_of
    if jobs == 1:
        yield from map(of, seeds)
        return
    with ProcessPoolExecutor(jobs) as pool:
        yield from pool.map(of, seeds, chunksize=CHUNK)


def keep(outcome: Outcome, folder: Path) -> None:
    """Write the scenario of an outcome, with what was found above it."""
    folder.mkdir(parents=True, exist_ok=True)
    head = f"# seed {outcome.case.seed}: judge {outcome.judged}, choreo {outcome.verdict}\n"
    head += f"# {outcome.case.note}\n# {outcome.detail}\n"
    name = f"{outcome.case.seed}-{outcome.verdict}.yaml"
    (folder / name).write_text(head + outcome.text, encoding="utf-8")


def worth_of(outcome: Outcome) -> str:
    """Under which word an outcome is worth a line of its own; "" if it isn't."""
    if outcome.wrong:
        return "WRONG"
    if outcome.weak:
        return "weak "
    return "open " if outcome.verdict == UNDECIDED else ""


def told(what: str, outcome: Outcome) -> str:
    """One line about a disagreement."""
    case = outcome.case
    return (
        f"{what} seed {case.seed}: {case.family}, {case.variant}: judge {outcome.judged}, "
        f"choreo {outcome.verdict} | {case.note} | {outcome.detail}"
    )


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--count", type=int, default=1000, help="how many scenarios")
    parser.add_argument("--seed", type=int, default=1, help="the first one's seed")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--everyday", action="store_true", help="round a known motion")
    parser.add_argument("--structures", action="store_true", help="rarer ones and their twins")
    parser.add_argument("--keep", type=Path, help="folder for the scenarios of these lines")
    chosen = parser.parse_args()
    if chosen.structures:
        return _structures(chosen.seed, chosen.count)
    found = Count()
    for outcome in outcomes(chosen.seed, chosen.count, chosen.jobs, everyday=chosen.everyday):
        found.add(outcome)
        if worth := worth_of(outcome):
            print(told(worth, outcome), flush=True)
            if chosen.keep:
                keep(outcome, chosen.keep)
        if found.total % 1000 == 0:
            print(f"{found.total} done", file=sys.stderr, flush=True)
    print(summary(found))
    return 1 if found.wrong else 0


def _structures(first: int, count: int) -> int:
    """Print what is wrong with rarer structures; 1 if anything is."""
    faulty = 0
    for seed in range(first, first + count):
        one = structure(seed)
        faults = list(faults_of(one))
        faulty += bool(faults)
        for fault in faults:
            print(f"WRONG seed {seed}: {one.kind} | {fault}", flush=True)
    print(f"{count} structures, wrong: {faulty}")
    return 1 if faulty else 0


def summary(found: Count) -> str:
    """The table and what it comes to."""
    weak = found.share(POSSIBLE, "undecided")
    undecided = sum(n for (_, _, verdict), n in found.cells.items() if verdict == "undecided")
    lines = [
        table(found),
        "",
        f"{found.total} scenarios, wrong: {len(found.wrong)}",
        f"undecided: {undecided} ({undecided / max(1, found.total):.2%})",
        f"undecided though possible: {len(found.weak)} ({weak:.2%})",
        f"undecided, possible by uneven ramps only: {found.share(UNEVEN, 'undecided'):.2%}",
        f"undecided and impossible: {found.share(IMPOSSIBLE, 'undecided'):.2%}",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
