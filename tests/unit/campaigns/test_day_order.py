"""The order of a day against every order, its bound, and the rules that each timetable must keep."""

import random
from itertools import permutations

import pytest

from choreo.campaigns.day.bound import earliest_end, left_of
from choreo.campaigns.day.driving import morning
from choreo.campaigns.day.hours import Hours
from choreo.campaigns.day.order import blocks_of, in_order, timetable
from choreo.campaigns.day.planned import day_of
from choreo.campaigns.day.records import Entry, Job, Rules, Upkeep
from choreo.campaigns.day.spec import DaySpec

INSTANCES = 200
EIGHT, FIVE = 8 * 3600.0, 17 * 3600.0


def _drawn(draw: random.Random) -> tuple[Rules, list[Job]]:
    """A short day of up to five stagings, tight enough that pauses, batteries and nights count."""
    pause = EIGHT + draw.choice([1200.0, 1800.0, 2500.0])
    hours = Hours(EIGHT, EIGHT + draw.choice([4000.0, 6000.0, 30000.0]), ((pause, pause + 900.0),))
    upkeep = {
        "target": Upkeep(
            battery_m=draw.choice([None, 1500.0, 2500.0]),
            strokes=draw.choice([None, None, 3]),
            swap_s=draw.choice([60.0, 600.0]),
            inspect_after=draw.choice([None, 2]),
            inspection_s=120.0,
        ),
        "subject": Upkeep(cool_after=draw.choice([None, 3]), cool_s=300.0),
    }
    restage_s = draw.choice([0.0, 200.0, 360.0])
    rules = Rules(hours, draw.choice([0.0, 90.0]), 600.0, restage_s, upkeep)
    jobs = [
        Job(
            str(index),
            draw.randint(0, 4),
            draw.uniform(15.0, 400.0),
            draw.uniform(10.0, 150.0),
            {"subject": draw.uniform(200.0, 900.0), "target": draw.choice([0.0, 500.0, 700.0])},
            frozenset({"target"} if draw.random() < 0.5 else ()),
            draw.randint(1, 3),
            draw.random() < 0.15,
        )
        for index in range(draw.randint(1, 7))
    ]
    return rules, jobs


def _ends(rules: Rules, jobs: list[Job]) -> list[float]:
    blocks = blocks_of(jobs)
    kinds = [not jobs[block[0]].first for block in blocks]
    orders = [
        order
        for order in permutations(range(len(blocks)))
        if [kinds[index] for index in order] == sorted(kinds)
    ]
    return [in_order(rules, jobs, [blocks[i] for i in order])[-1].back_s for order in orders]


def _check_rules(rules: Rules, jobs: list[Job], entries: tuple[Entry, ...]) -> None:
    """Every rule of the track anew, from the entries alone."""
    tries = sorted((entry.job, entry.number) for entry in entries)
    assert tries == [(i, n) for i, job in enumerate(jobs) for n in range(1, job.tries + 1)]
    way = dict.fromkeys(rules.upkeep, 0.0)
    hits = runs = strokes = 0
    target = rules.upkeep["target"]
    before: Entry | None = None
    for entry in entries:
        job = jobs[entry.job]
        windows = [
            (start + day * 86400.0, end + day * 86400.0)
            for day in range(40)
            for start, end in rules.hours.windows
        ]
        assert any(a - 1e-6 <= entry.start_s and entry.back_s <= b + 1e-6 for a, b in windows)
        if before is not None:
            gap = entry.start_s - before.end_s
            night = entry.start_s // 86400.0 > before.start_s // 86400.0
            assert gap >= rules.least_gap_s - 1e-6
            assert entry.start_s >= before.back_s - 1e-6
            changed = jobs[before.job].staging != job.staging
            assert ("restage" in entry.before) == (changed and not night)
            if "restage" in entry.before:
                assert entry.start_s - before.back_s >= rules.restage_s - 1e-6
            if night or "swap target" in entry.before:
                way["target"], strokes = 0.0, 0
            if night or "inspect target" in entry.before:
                hits = 0
            if gap >= rules.upkeep["subject"].cool_s - 1e-9:
                runs = 0
        way["target"] += job.ways_m["target"]
        hits += "target" in job.touched
        strokes += job.ways_m["target"] > 0.0
        runs += 1
        assert target.battery_m is None or way["target"] <= target.battery_m + 1e-5
        assert target.inspect_after is None or hits <= target.inspect_after
        assert target.strokes is None or strokes <= target.strokes
        assert rules.upkeep["subject"].cool_after is None or runs <= 3
        before = entry


def test_no_order_is_better_and_no_bound_above_the_best() -> None:
    draw = random.Random(3)
    searched = 0
    for _ in range(INSTANCES):
        rules, jobs = _drawn(draw)
        ends = _ends(rules, jobs)
        found = timetable(rules, jobs, within_s=0.0)
        _check_rules(rules, jobs, found.entries)
        assert found.exact
        assert found.end_s == pytest.approx(min(ends), abs=1e-5)
        bound_s = earliest_end(rules, morning(rules), left_of(rules, jobs))
        assert bound_s <= min(ends) + 1e-6
        searched += min(ends) < ends[0] - 1e-6
    assert searched > 20, "the plain order is the best one nearly always: nothing was shown"


def test_many_stagings_are_no_worse_than_the_plain_order_and_the_bound_is_below() -> None:
    draw = random.Random(4)
    rules, _ = _drawn(draw)
    rules = Rules(Hours(EIGHT, FIVE, ((43200.0, 45900.0),)), 90.0, 600.0, 360.0, rules.upkeep)
    jobs = [
        Job(str(i), i, draw.uniform(20.0, 300.0), 60.0, {"subject": 500.0, "target": 300.0})
        for i in range(20)
    ]
    found = timetable(rules, jobs)
    plain = in_order(rules, jobs, blocks_of(jobs))
    _check_rules(rules, jobs, found.entries)
    assert found.at_least_s <= found.end_s <= plain[-1].back_s
    assert found.end_s - found.at_least_s < 0.1 * (found.end_s - EIGHT)


def test_a_day_by_hand() -> None:
    """Two stagings, three runs of 60 s, 40 s back, 90 s apart, 6 min to restage: by pencil."""
    rules = Rules(Hours(EIGHT, FIVE), 90.0, 300.0, 360.0)
    jobs = [Job("a", 0, 60.0, 40.0, {}, tries=2), Job("b", 1, 60.0, 40.0, {})]
    entries = timetable(rules, jobs).entries
    # 0; 60 + 90 = 150; 210 back at 250, restaged at 610.
    assert [entry.start_s - EIGHT for entry in entries] == [0.0, 150.0, 610.0]
    assert [entry.before for entry in entries] == [(), (), ("restage",)]
    assert [entry.late for entry in entries] == [False, False, True]


def test_a_run_waits_for_the_afternoon_and_for_the_next_day() -> None:
    rules = Rules(Hours(EIGHT, EIGHT + 1000.0, ((EIGHT + 250.0, EIGHT + 500.0),)))
    entries = timetable(rules, [Job("a", 0, 100.0, 100.0, {}, tries=5)]).entries
    starts = [entry.start_s - EIGHT for entry in entries]
    assert starts == [0.0, 500.0, 700.0, 86400.0, 86900.0]


def test_a_run_longer_than_any_stretch_is_refused() -> None:
    rules = Rules(Hours(EIGHT, EIGHT + 100.0))
    with pytest.raises(ValueError, match="longer"):
        timetable(rules, [Job("a", 0, 100.0, 1.0, {})])


def test_a_run_that_can_not_be_done_is_told_with_what_is_too_short_for_it() -> None:
    hours = Hours(EIGHT, EIGHT + 1200.0, ((EIGHT + 300.0, EIGHT + 900.0),))
    rules = Rules(hours, 0.0, 600.0, 60.0, {"subject": Upkeep(battery_m=500.0, swap_s=60.0)})
    ways = {"long": 100.0, "far": 600.0, "well": 100.0}
    jobs = [
        Job(name, 0, 400.0 if name == "long" else 100.0, 50.0, {"subject": way}, frozenset(), 1)
        for name, way in ways.items()
    ]
    plan = day_of(DaySpec(rules), jobs, [1, 1, 1])
    assert list(plan.too_long) == ["long", "far"]
    assert "7.5 min" in plan.too_long["long"]
    assert "5.0 min" in plan.too_long["long"]
    assert "600 m" in plan.too_long["far"]
    assert "500 m" in plan.too_long["far"]
