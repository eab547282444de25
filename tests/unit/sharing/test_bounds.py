"""What no timetable beats: of a place that vehicles use again and again without waiting between, and of the rest."""

import random

import pytest

from choreo.sharing.blocking import Gap
from choreo.sharing.bounds import bound_of
from choreo.sharing.jobs import Job, Use, sharing_of
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
