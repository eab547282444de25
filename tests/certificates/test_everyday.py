"""Everyday scenarios round a known motion: what can be driven is planned, what can't is not, nothing is left undecided.

More of them: `python tools/harness.py --everyday --count 20000 --jobs 2`.
"""

import pytest

from tests.harness import compare

CHUNKS, CHUNK = 4, 40
# Two of a lane that touch between two looks at them, and a walker whose trigger its subject stands on: found by more.
SEEN = (20100, 22145, 20396, 61017)


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_everyday_scenarios_are_decided_rightly(chunk: int) -> None:
    seeds = range(chunk * CHUNK, (chunk + 1) * CHUNK)
    found = compare.count(seeds, outcome=compare.everyday_outcome_of)
    told = [
        f"seed {one.case.seed}: {one.judged}, choreo {one.verdict} {one.detail}"
        for one in (*found.wrong, *found.weak)
    ]
    assert told == []


def test_everyday_scenarios_that_were_left_undecided_once_are_decided() -> None:
    found = compare.count(SEEN, outcome=compare.everyday_outcome_of)
    assert {(one, verdict) for _, one, verdict in found.cells} == {("possible", "feasible")}


@pytest.mark.parametrize("lie", ["feasible", "infeasible", "undecided"])
def test_a_product_that_always_says_the_same_is_caught(lie: str) -> None:
    found = compare.Count()
    for seed in range(24):
        found.add(compare.everyday_outcome_of(seed, lambda _text: (lie, "")))
    assert len(found.wrong) + len(found.weak) >= 5
