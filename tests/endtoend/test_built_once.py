"""What is worked out of a scenario is worked out once: one solver, each path one time."""

from collections import Counter

import pytest

from tools.counts import bundled, count_plan, count_why

FILES = {file.stem: file for file in bundled()}
# One with sights that move an obstacle, curves, a survey, several encounters, two impossible ones.
PLANNED = (
    "child-seen-late",
    "turn-across-oncoming",
    "surveyed-road-walker",
    "two-encounters",
    "side-road-too-short",
)
EXPLAINED = (
    "walker-nearside",
    "surveyed-road-braking-lead",
    "side-road-too-short",
    "cyclist-starts-too-close",
)


def most_builds(counts: Counter[str]) -> int:
    """Of one path."""
    return max(count for what, count in counts.items() if what.startswith("path "))


@pytest.mark.parametrize("name", PLANNED)
def test_planning_writes_one_programme_at_most_and_builds_each_path_once(name: str) -> None:
    counts = count_plan(FILES[name])
    # Where the linear stage has a plan, none is written; gentlest ramps and impossible scenarios want one.
    written = name in ("side-road-too-short", "surveyed-road-walker")
    assert counts["solvers"] == int(written)
    assert most_builds(counts) == 1


@pytest.mark.parametrize("name", EXPLAINED)
def test_explaining_solves_every_neighbour_with_the_same_programme(name: str) -> None:
    # Where rates and speeds are given none is written at all.
    assert count_why(FILES[name])["solvers"] <= 1


def test_only_paths_that_a_quantity_changes_are_built_anew() -> None:
    # Both ends of a surveyed road are where they were surveyed: no quantity touches it.
    assert most_builds(count_why(FILES["surveyed-road-braking-lead"])) == 1
    # A path is built once for each length that is looked at, and where it is confirmed; the others stay.
    counts = count_why(FILES["side-road-too-short"])
    assert 2 <= most_builds(counts) <= 20
    assert counts["path belt-from-right"] == counts["path belt-from-left"] == 1
