"""Answers to scenarios for tests: the timing alone, or bundled ones whole, planned once in a run of all tests."""

import os
import pickle
import tempfile
from dataclasses import replace
from functools import cache
from pathlib import Path

from choreo.case import Answer, answer, case_at, whole_answer
from choreo.plans.record import Plan
from choreo.repair import Explanation, explain
from choreo.scenario import Scenario, load
from choreo.solve import Solvers

FOLDER = Path(__file__).resolve().parent.parent / "scenarios"
# Where the processes of one run of the tests share answers; `tests/conftest.py` makes and removes it.
SHARED = "CHOREO_TESTS_SHARED"


def timing_of(scenario: Scenario) -> Plan:
    """Solve, verify and judge a scenario with its limits as written, as if its ground were level and gripped enough."""
    return answer(case_at(scenario, None)).plan


def explained(scenario: Scenario) -> Explanation:
    """Explain the verdict of a scenario with its limits as written."""
    return explain(answer(case_at(scenario, None)))


@cache
def whole(name: str) -> Answer:
    """Give the whole answer to a bundled scenario, by its name in the folder without ending.

    Whichever process of this run asks first works it out, with the code as it is in this run; what solvers keep for
    neighbours is left out.
    """
    file = Path(os.environ[SHARED]) / f"{name.replace('/', '+')}.pickle"
    if file.exists():
        kept: Answer = pickle.loads(file.read_bytes())
        return kept
    found = whole_answer(load(FOLDER / f"{name}.yaml"))
    found = replace(found, case=replace(found.case, solvers=Solvers()), solved=None)
    with tempfile.NamedTemporaryFile(dir=file.parent, delete=False) as written:
        written.write(pickle.dumps(found))
    # Another process may have been at it too: what it reads is whole all the same.
    Path(written.name).replace(file)
    return found
