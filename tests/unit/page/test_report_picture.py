"""The picture in characters: inside its width, with everybody on it."""

import pytest

from choreo.problem import paths_by_mover
from choreo.report.picture import picture_of
from tests.unit.page.shown import NAMES, planned


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [40, 100])
def test_picture_keeps_its_width_and_shows_who_runs(name: str, width: int) -> None:
    scenario, plan = planned(name)
    lines = picture_of(plan, paths_by_mover(scenario), width)
    assert bool(lines) == bool(plan.movers)
    assert max((len(line) for line in lines), default=0) <= width
    assert all(line.isascii() and line == line.rstrip() for line in lines)
    assert [mover for mover in plan.movers if mover not in "\n".join(lines)] == []


def test_picture_of_the_walker_by_eye() -> None:
    scenario, plan = planned("walker-nearside")
    lines = "\n".join(picture_of(plan, paths_by_mover(scenario), 90))
    # The subject runs eastwards: its mark, the trigger, the contact and its rest lie in that order.
    road = next(line for line in lines.splitlines() if "S" in line and "X" in line)
    assert road.index("S") < road.index("!") < road.index("X") < road.index("s")
    walker = next(line for line in lines.splitlines() if line.startswith("W walker "))
    strip = walker.split()[-1]
    assert strip.startswith("....")
    assert strip.index("/") < strip.index("=") < strip.index("\\") < strip.index("_")
