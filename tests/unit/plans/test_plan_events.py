"""Events and pieces of a plan say which phase of the programme they belong to."""

import pytest

from choreo.plans.record import MoverPlan
from tests.unit.page.shown import NAMES, planned

GOOD = [name for name in NAMES if not name.startswith("impossible/")]


def _ends(mover: MoverPlan) -> dict[int, float]:
    """When each phase that has pieces ends, by its index."""
    ends: dict[int, float] = {}
    for piece in mover.pieces:
        assert piece.phase_index is not None
        assert mover.phases[piece.phase_index].name == piece.phase
        ends[piece.phase_index] = piece.start_s + piece.duration_s
    return ends


@pytest.mark.parametrize("name", GOOD)
def test_pieces_and_ends_of_phases_name_the_phase_of_the_programme(name: str) -> None:
    scenario, plan = planned(name)
    assert set(plan.movers) == set(scenario.movers)
    for mover_name, mover in plan.movers.items():
        programme = scenario.movers[mover_name].programme
        assert [(p.name, p.kind) for p in mover.phases] == [(p.name, p.kind) for p in programme]
        ended = {event.phase: event.time_s for event in mover.events if event.kind == "phase end"}
        assert ended == pytest.approx(_ends(mover), abs=1e-6)


@pytest.mark.parametrize("name", GOOD)
def test_every_event_has_its_kind(name: str) -> None:
    _, plan = planned(name)
    assert plan.movers
    for mover_name, mover in plan.movers.items():
        waits = bool(mover.phases) and mover.phases[0].kind == "wait"
        by_kind = {
            kind: {event.name for event in mover.events if event.kind == kind}
            for kind in ("launch", "phase end", "trigger", "encounter")
        }
        assert by_kind == {
            "launch": {"launch"} if mover.phases else set(),
            "phase end": {f"end of {p.name}" for p in mover.phases[1 if waits else 0 :]},
            "trigger": {f"trigger {n}" for n, t in plan.triggers.items() if t.watch == mover_name},
            "encounter": {n for n, e in plan.encounters.items() if mover_name in (e.of, e.with_)},
        }
