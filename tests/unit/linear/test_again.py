"""A search done again beside a neighbour's finds what it finds alone, and never more than its multipliers prove."""

from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import Case, case_of
from choreo.linear import Decision, Memory, decide
from choreo.linear.again import Branched, Tree
from choreo.linear.multipliers import Proof
from choreo.scenario import loads
from choreo.solve import solve_linear

SCENARIOS = Path(__file__).parents[3] / "scenarios"
KMH = 1 / 3.6


def at(speed: str, follow: str = "1.5 s") -> Case:
    """Three movers: the lead leaves the lane, and uncovers a target that stands where the plan puts it."""
    file = SCENARIOS / "cut-out-reveals-stationary.yaml"
    text = file.read_text(encoding="utf-8").replace("test_speed: 50", f"test_speed: {speed}")
    text = text.replace("time gap: 1.5 s", f"time gap: {follow}")
    return case_of(loads(text, str(file), SCENARIOS))


def decided(case: Case, memory: Memory | None = None) -> Decision:
    found = decide(case.staging, {}, solve_linear, memory=memory)
    assert found is not None
    return found


def starts(found: Decision) -> dict[str, float]:
    assert found.reading is not None
    return {name: one.start_m for name, one in found.reading.movers.items()}


def weakened(tree: Tree) -> Tree:
    """A tree whose proofs lack what a row says."""
    if isinstance(tree, Proof):
        return replace(tree, cells=({}, *tree.cells[1:]))
    return replace(tree, trees=tuple(map(weakened, tree.trees)))


def test_neighbours_are_as_alone_and_take_fewer_linear_problems() -> None:
    memory = Memory()
    first = decided(at("49"), memory)
    for speed, follow in (("49.4", "1.5 s"), ("47", "1.4 s")):
        alone, again = decided(at(speed, follow)), decided(at(speed, follow), memory)
        assert starts(again) == pytest.approx(starts(alone), abs=1e-9)
        assert again.solved < first.solved / 3 < alone.solved
    assert len(memory.kept) == 1


def test_what_is_known_of_a_curve_serves_those_who_ask_for_another_gap_there() -> None:
    memory, case = Memory(), at("49")
    decided(case, memory)
    known = memory.relations["following"]
    gap = next(one for one in case.quantities if one.name == "following time gap")
    decided(case.with_(gap, 1.4), memory)
    assert memory.relations["following"] is not known
    assert memory.relations["following"]._tubes is known._tubes


def test_what_is_known_of_a_curve_over_an_interval_contains_it_however_short_that_is() -> None:
    memory = Memory()
    decided(at("49"), memory)
    relation, beyond, lengths = memory.relations["turning_out"], [], []
    for station in (541.6, 541.7, 541.8):
        relation.at(station)
        list(relation.within((station - 1e-4, station + 3e-4)))
    for (low, high), tube in relation._tubes.items():
        if tube is None:
            continue
        lengths.append(high - low)
        for step in range(21):
            station = low + (high - low) * step / 20
            value, slope = relation.curve(station)
            off = value - tube.value - tube.slope * (station - low)
            if not (
                tube.off[0] <= off <= tube.off[1] and tube.slopes[0] <= slope <= tube.slopes[1]
            ):
                beyond.append((low, high, station))
    assert beyond == []
    assert min(lengths) < 1e-3 < 1.0 < max(lengths)


def test_what_the_multipliers_do_not_prove_is_searched_from_the_start() -> None:
    memory = Memory()
    alone = decided(at("49"), memory)
    (kept,) = memory.kept.values()
    whole = kept.tree
    assert isinstance(whole, Branched)
    for tree in (weakened(whole), replace(whole, trees=whole.trees[1:])):
        kept.tree = tree
        again = decided(at("49"), memory)
        assert again.solved >= alone.solved
        assert starts(again) == pytest.approx(starts(alone), abs=1e-9)
        (kept,) = memory.kept.values()
    assert kept.tree == whole


def test_a_neighbour_without_a_plan_is_told_with_its_reason() -> None:
    memory = Memory()
    decided(at("49"), memory)
    none = decided(at("49", "40 s"), memory)
    assert none.reading is None
    assert none.conflict is not None
