"""What no timetable beats: of a place that vehicles use again and again without waiting between, and of the rest."""

import random
from dataclasses import replace

import pytest

from choreo.sharing import flow, mending
from choreo.sharing.bounds import bound_of, together
from choreo.sharing.driving import Gap
from choreo.sharing.jobs import Job, Use, sharing_of
from choreo.sharing.places import alone, around, places_of
from choreo.sharing.timetable import timetable

GAP = Gap(1.0, 4.0, 20.0)


def job(number: int, kind: str, ways: list[int], uses: list[int], *, waits: bool) -> Job:
    """Ways in s before, between and behind uses of a place; it waits in every use, or nowhere."""
    lasts, used = [float(ways[0])], []
    for use, way in zip(uses, ways[1:], strict=True):
        enters = (len(lasts) - 1, lasts[-1])
        lasts[-1] += use
        if waits:
            lasts.append(0.0)
        used.append(Use("basin", enters, (len(lasts) - 1, 0.0 if waits else lasts[-1])))
        lasts[-1] += way
    return Job(f"{kind} {number}", kind, kind, 0.0, tuple(lasts), tuple(used))


@pytest.mark.parametrize(
    ("way", "count", "ends"),
    [
        # No use of 4 s fits into a way of 3 s: one after the other, each 11 s.
        (3, 3, 1 + 3 * 11 + 2),
        # One does: two take turns, the next two begin 4 s after the first is done.
        (5, 4, 1 + 4 + 13 + 4 + 13 + 2),
        (5, 3, 1 + 13 + 4 + 13 + 2),
    ],
)
def test_who_comes_back_leaves_room_for_few(way: int, count: int, ends: int) -> None:
    jobs = [job(n, "car", [1, way, 2], [4, 4], waits=count == 3) for n in range(count)]
    found = timetable(sharing_of(jobs, GAP, frozenset()))
    assert found is not None
    assert found.ends_s == pytest.approx(ends, abs=1e-6)
    assert bound_of(jobs, GAP).ends_s == pytest.approx(ends, abs=1e-6)


def test_no_timetable_beats_it() -> None:
    """Of random jobs of two kinds whose best timetable is known, some end at the bound."""
    chance = random.Random(8)
    late = []
    while len(late) < 7:
        kinds = [
            (
                [chance.randint(0, 6), *(chance.randint(1, 12) for _ in uses[1:]), 3],
                uses,
                chance.random() < 0.5,
            )
            for uses in ([chance.randint(1, 4) for _ in range(count)] for count in (2, 3))
        ]
        jobs = []
        for number in range(3):
            kind = chance.randint(0, 1)
            ways, uses, waits = kinds[kind]
            jobs.append(job(number, f"kind {kind}", ways, uses, waits=waits))
        found = timetable(sharing_of(jobs, GAP, frozenset()))
        assert found is not None
        assert found.proved
        late.append(found.ends_s - bound_of(jobs, GAP).ends_s)
    assert min(late) > -1e-4
    assert sum(one < 1e-3 for one in late) >= 1


def between_places(number: int, kind: str, legs: list[tuple[str, int, int]], tail: int) -> Job:
    """(place, way in s to it, use in s), and the way from the last to the end; it may wait in every use."""
    lasts, used = [0.0], []
    for place, way, use in legs:
        enters = (len(lasts) - 1, lasts[-1] + way)
        lasts[-1] += way + use
        lasts.append(0.0)
        used.append(Use(place, enters, (len(lasts) - 1, 0.0)))
    lasts[-1] += tail
    return Job(f"{kind} {number}", kind, kind, 0.0, tuple(lasts), tuple(used))


@pytest.fixture
def coarse(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(flow, "MOST_VARIABLES", 500)


@pytest.mark.usefixtures("coarse")
def test_two_places_together_tell_more_than_each() -> None:
    """The pit could take one every 6 s, but the basin takes 3 + 5 s of each: before, and after the pit."""
    jobs = [
        between_places(n, "car", [("basin", 1, 3), ("pit", 4, 6), ("basin", 4, 5)], 1)
        for n in range(4)
    ]
    found = timetable(sharing_of(jobs, GAP, frozenset()))
    known = bound_of(jobs, GAP)
    assert found is not None
    assert found.proved
    more = together(jobs, known, found.ends_s)
    assert known.ends_s < more.ends_s <= found.ends_s + 1e-3
    assert "`basin` and `pit`" in more.because


@pytest.mark.usefixtures("coarse")
def test_no_timetable_beats_places_together() -> None:
    """Of random vehicles of two kinds whose best timetable is known, in some it is more than each place tells."""
    chance = random.Random(5)
    late, more = [], []
    while len(late) < 6:
        kinds = [
            [
                (place, chance.randint(0, 6), chance.randint(1, 5))
                for place in chance.choices(["basin", "pit"], k=3)
            ]
            for _ in range(2)
        ]
        jobs = []
        for number in range(4):
            kind = chance.randint(0, 1)
            jobs.append(between_places(number, f"kind {kind}", kinds[kind], kind))
        found = timetable(sharing_of(jobs, GAP, frozenset()))
        assert found is not None
        assert found.proved
        known = bound_of(jobs, GAP)
        best = together(jobs, known, 1.3 * found.ends_s)
        late.append(found.ends_s - best.ends_s)
        more.append(best.ends_s - known.ends_s)
    assert min(late) > -1e-3
    assert max(more) > 0.1


def test_alike_vehicles_in_one_turn_lose_nothing() -> None:
    """Of random vehicles the best timetable in which those alike keep their turn is as good as any."""
    chance = random.Random(2)
    late, fewer = [], []
    for _ in range(5):
        kinds = [
            [
                (place, chance.randint(0, 6), chance.randint(1, 5))
                for place in chance.choices(["basin", "pit"], k=3)
            ]
            for _ in range(2)
        ]
        jobs = [between_places(n, f"kind {n // 3}", kinds[n // 3], 1) for n in range(5)]
        sharing, places = sharing_of(jobs, GAP, frozenset()), places_of(jobs)
        found = timetable(sharing)
        assert found is not None
        assert found.proved
        worse = replace(found, starts_s=tuple(6.0 * t for t in found.starts_s))
        one, bound = alone(places, replace(worse, ends_s=sharing.ends_s(worse.starts_s)), 0.0)
        assert not sharing.broken(one.starts_s)
        late.append(one.ends_s / found.ends_s - 1.0)
        assert bound <= found.ends_s + 1e-3
        fewer.append(len(sharing.orders) - len(places.orders))
        near = around(sharing, one, bound)
        assert near is not None
        assert not sharing.broken(near.starts_s)
    assert max(late) < 3e-3
    assert min(fewer) > 0


def test_mended_timetables_are_whole_and_near_the_best(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of random vehicles none is broken or better than the best, and most are as good."""
    monkeypatch.setattr(mending, "MOVES", 150)
    monkeypatch.setattr(mending, "BEGINNINGS", 40)
    monkeypatch.setattr(mending, "MOST_BROKEN", 10.0)
    chance = random.Random(3)
    late = []
    for _ in range(3):
        legs = [(place, chance.randint(1, 6), chance.randint(2, 5)) for place in ("basin", "pit")]
        jobs = [between_places(n, "car", [*legs, legs[0]], 2) for n in range(4)]
        sharing = sharing_of(jobs, GAP, frozenset())
        best = timetable(sharing)
        assert best is not None
        assert best.proved
        found = mending.mended(sharing, best.ends_s)
        if found is not None:
            assert not sharing.broken(found.starts_s)
            late.append(found.ends_s / best.ends_s - 1.0)
    assert min(late) > -1e-4
    assert sum(one < 1e-3 for one in late) >= 2
