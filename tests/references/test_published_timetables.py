"""Timetables against published job shops and worked headways."""

import math
from itertools import product
from pathlib import Path

import pytest

from choreo.sharing import places, solving
from choreo.sharing.bounds import Bound
from choreo.sharing.driving import Gap
from choreo.sharing.jobs import Job, Use, sharing_of
from choreo.sharing.model import Apart, Segment, Sharing
from choreo.sharing.planning import plan_share

# C176: rows of (machine, duration).
FT06 = [
    [(2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)],
    [(1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)],
    [(2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)],
    [(1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)],
    [(2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)],
    [(1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)],
]


# C177, from the public list of job shops: machine and duration in turn.
LA01 = [
    [1, 21, 0, 53, 4, 95, 3, 55, 2, 34],
    [0, 21, 3, 52, 4, 16, 2, 26, 1, 71],
    [3, 39, 4, 98, 1, 42, 2, 31, 0, 12],
    [1, 77, 0, 55, 4, 79, 2, 66, 3, 77],
    [0, 83, 3, 34, 2, 64, 1, 19, 4, 37],
    [1, 54, 2, 43, 4, 79, 0, 92, 3, 62],
    [3, 69, 4, 77, 1, 87, 2, 87, 0, 93],
    [2, 38, 0, 60, 1, 41, 3, 24, 4, 83],
    [3, 17, 1, 49, 4, 25, 0, 44, 2, 98],
    [4, 77, 3, 79, 2, 43, 1, 75, 0, 96],
]


JOBS_LA01 = [list(zip(one[::2], one[1::2], strict=True)) for one in LA01]


@pytest.fixture(autouse=True)
def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Branchings are what ends a programme here, on slow machines as well."""
    monkeypatch.setattr(solving, "SECONDS", 60.0)
    monkeypatch.setattr(places, "SECONDS", 60.0)


def shop(folder: Path, jobs: list[list[tuple[int, int]]], waits: str) -> Path:
    """Cars that visit places with one user at a time."""
    lines = ["choreo share: 1", "title: A job shop", "vehicles:"]
    for number, job in enumerate(jobs):
        visits = ", ".join(f"{{at: m{machine}, for: {lasts} s}}" for machine, lasts in job)
        lines.append(f"  car{number}: {{waits: {waits}, visits: [{visits}]}}")
    file = folder / "shop.yaml"
    file.write_text("\n".join(lines), encoding="utf-8")
    return file


@pytest.mark.parametrize(
    ("jobs", "waits", "ends"), [(FT06, "yes", 55), (FT06, "no", 73), (JOBS_LA01, "yes", 666)]
)
def test_a_job_shop_ends_when_it_is_known_to(
    tmp_path: Path, jobs: list[list[tuple[int, int]]], waits: str, ends: float
) -> None:
    """C176, C177."""
    found = plan_share(shop(tmp_path, jobs, waits)).found
    assert found is not None
    assert found.ends_s == pytest.approx(ends, abs=1e-3)
    assert found.proved


def test_ten_jobs_without_waiting_end_as_early_as_is_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """C177: no better one exists, so the search may stop there; by itself it goes on looking."""
    monkeypatch.setattr(solving, "bound_of", lambda *_: Bound(971.0, "known"))
    found = plan_share(shop(tmp_path, JOBS_LA01, "no")).found
    assert found is not None
    assert found.ends_s == pytest.approx(971.0, abs=1e-3)


def test_a_small_periodic_timetable_has_six_and_one_is_best() -> None:
    """C178: what two events of a period of 10 can't have are differences, again every period."""
    arcs = [(0, 1, 3, 4, 2), (1, 2, 2, 3, 1), (2, 0, 2, 6, 3), (2, 3, 3, 5, 1), (3, 1, 1, 3, 2)]
    aparts = [
        Apart(a, b, tuple((most + 10.0 * k, least + 10.0 * (k + 1)) for k in range(-3, 3)))
        for a, b, least, most, _ in arcs
    ]
    sharing = Sharing(tuple(Segment(n, 0.0) for n in range(4)), tuple(aparts))
    times = [(0, *three) for three in product(range(10), repeat=3)]
    feasible = [one for one in times if not sharing.broken(one)]
    cost = {
        one: sum(weight * ((one[b] - one[a] - least) % 10) for a, b, least, _, weight in arcs)
        for one in feasible
    }
    assert len(feasible) == 6
    assert min(cost, key=lambda one: cost[one]) == (0, 4, 7, 2)
    assert cost[0, 4, 7, 2] == 10


def blocks(speed_kmh: float) -> Job:
    """Six sections of 1500 m, each blocked from setup, sighting and approach on until it is released."""
    v = speed_kmh / 3.6
    uses = [
        Use(
            f"section {k}",
            (0, 1500.0 * k / v - 3.0 - 12.0 - 1500.0 / v),
            (0, (1500.0 * (k + 1) + 200.0) / v + 2.0),
        )
        for k in range(6)
    ]
    return Job("train", "train", f"{speed_kmh:g}", 0.0, (9000.0 / v,), tuple(uses))


@pytest.mark.parametrize(
    ("ahead", "behind", "headway"), [(160, 160, 89.0), (80, 160, 296.0), (160, 80, 122.75)]
)
def test_blocking_times_give_the_headway(ahead: float, behind: float, headway: float) -> None:
    """C179, C180: one section is blocked for 17 s + 3200 m / v; the fast one must not catch up."""
    first, second = blocks(ahead), blocks(behind)
    use = first.uses[0]
    assert use.leaves[1] - use.enters[1] == pytest.approx(89.0 if ahead == 160 else 161.0, abs=0.1)
    (apart,) = sharing_of((first, second), Gap(1.0, 4.0, 20.0), frozenset()).aparts
    assert apart.forbidden[-1][1] == pytest.approx(headway, abs=0.1)


def test_headway_at_48_kmh_and_how_many_a_mile_carries() -> None:
    # C181, C182
    gap = Gap(1.0, 4.0, 25.0)
    assert float(gap.at(48 / 3.6)) == pytest.approx(60.556, abs=1e-3)
    assert gap.headway_s(48 / 3.6) == pytest.approx(4.542, abs=1e-3)
    assert math.floor(1609.344 / float(gap.at(48 / 3.6))) == 26
