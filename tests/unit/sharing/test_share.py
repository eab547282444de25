"""A shared track: differences that can't be, a timetable that the replay agrees with, and one that it doesn't."""

import json
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest

from choreo.circuits.planning import plan_circuit
from choreo.circuits.reading import load_circuit
from choreo.commands.checks import check_files
from choreo.commands.exits import BAD_INPUT, WELL
from choreo.sharing import planning, solving
from choreo.sharing.blocking import forbidden_between
from choreo.sharing.bounds import bound_of
from choreo.sharing.crowding import carried, warnings_of
from choreo.sharing.driving import Gap, course_of
from choreo.sharing.jobs import Job, Use
from choreo.sharing.model import Apart, Order, Segment, Sharing, gaps_of, merged
from choreo.sharing.pattern import patterned
from choreo.sharing.places import no_places, places_of
from choreo.sharing.planning import SharedTrack, plan_share
from choreo.sharing.reading import load_share
from choreo.sharing.replay import Run, breaches, intruders, see
from choreo.sharing.search import searched
from choreo.sharing.shown import page_of_share
from choreo.sharing.timetable import timetable
from choreo.sharing.told import content_of_share, text_of_share, waits_of
from choreo.words import ChoreoError
from tests.unit.circuits.miles import COOL, MILE

CIRCUITS = Path("scenarios/circuits")
# What can't be run as planned.
WALL = min(Path("scenarios/impossible").glob("*.yaml")).resolve()
SHARE = """\
choreo share: 1
title: <b>Three</b> on a mile
vehicles: {car: {file: circuit.yaml, count: 3}}
single: [cool]
"""


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Searches are short here."""
    monkeypatch.setattr(solving, "MOST_LOOKS", 2_000_000)


def written(folder: Path, text: str) -> Path:
    (folder / "circuit.yaml").write_text(MILE + COOL, encoding="utf-8")
    file = folder / "share.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def test_three_share_a_mile_and_the_replay_finds_who_starts_too_soon(tmp_path: Path) -> None:
    track = plan_share(written(tmp_path, SHARE))
    assert track.well
    assert track.found is not None
    assert track.found.ends_s <= 1.05 * track.solved.bound.ends_s
    single = frozenset({"cool"})
    assert breaches(track.runs, track.gap, single) == ()
    near = [
        replace(one, starts_s=tuple(t + 3.0 * number for t in track.runs[0].starts_s))
        for number, one in enumerate(track.runs)
    ]
    found = breaches(near, track.gap, single)
    assert {(one.behind, one.ahead) for one in found} >= {("car 2", "car 1"), ("car 3", "car 2")}
    assert "cool" in {one.place for one in found}
    text = " ".join(str(one) for one in content_of_share(track).sections)
    assert "B car 2 |" in text
    assert "carries 26 vehicles at a time" in text  # C182
    # Nobody else stands ten minutes in the basin within five laps: each drives when those before it are done.
    assert [one.code for one in warnings_of(track)] == ["share.few-turns"]
    assert "only 1 of 3 can take turns" in text
    assert "share.yaml:3:12: `cool`" in text
    narrow = replace(track, gap=Gap(1.0, 4.0, 800.0))
    assert [one.code for one in warnings_of(narrow)] == ["share.crowded", "share.few-turns"]
    assert content_of_share(track).headline == "FEASIBLE"
    assert track.found is not None
    late = replace(track.found, ends_s=1.5 * track.solved.bound.ends_s)
    slow = replace(track, solved=replace(track.solved, found=late))
    assert content_of_share(slow).headline == "FEASIBLE, UP TO 50.0 % OVER THE LEAST TIME"
    assert json.loads(text_of_share(track))["users"][1]["laps"][5]["lap"] == "cool"
    check_page(track)


SLOW_AND_FAST = """
choreo circuit: 1
title: Slow on one stretch
paths:
  loop:
    start: [0 m, 0 m]
    closed: yes
    pieces:
      - {line: 50 m}
      - {line: 200 m, speed: 36..42 km/h}
      - {line: 50 m}
      - {bend: {radius: 35 m, angle: 180 deg, clothoid length: 20 m}}
      - {line: 60 m}
      - {line: 100 m, speed: 50 km/h}
      - {line: 140 m}
      - {bend: {radius: 35 m, angle: 180 deg, clothoid length: 20 m}}
vehicle:
  body: {length: 4.80 m, width: 1.90 m}
  limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 4 m/s2, jerk: 2 m/s3, lateral: 3.5 m/s2}
  usual: {accelerate: 1.5 m/s2, brake: 2 m/s2}
circuit: {main: loop, laps: 5, driven by: robot}
"""


def test_the_main_path_carries_what_fits_into_a_lap_not_what_its_highest_speed_would_let(
    tmp_path: Path,
) -> None:
    (tmp_path / "circuit.yaml").write_text(SLOW_AND_FAST.lstrip(), encoding="utf-8")
    file = tmp_path / "share.yaml"
    file.write_text(
        "choreo share: 1\ntitle: Two\nvehicles:\n  car: {file: circuit.yaml, count: 2}\n",
        encoding="utf-8",
    )
    track = plan_share(file)
    carries = carried(track)
    course = track.jobs[0].course
    assert carries is not None
    assert course is not None
    assert carries.vehicles == int(carries.lap_s / carries.apart_s)
    # Two laps one after the other, on the move: the times at which one passes where the other is a headway on.
    plain_lap = next(one for one in course.tables if one.then is not None and not one.lap.key.first)
    ways = np.arange(0.0, plain_lap.end_m, 25.0)
    ahead = ways + track.gap.at(np.interp(ways, plain_lap.ways_m, plain_lap.speeds_mps))
    twice_m = np.concatenate((plain_lap.ways_m, plain_lap.end_m + plain_lap.ways_m[1:]))
    twice_s = np.concatenate((plain_lap.times_s, plain_lap.lasts_s + plain_lap.times_s[1:]))
    later = np.interp(ahead, twice_m, twice_s) - np.interp(ways, twice_m, twice_s)
    assert carries.apart_s == pytest.approx(later.max(), rel=0.02)
    assert carries.apart_s >= later.max() - 1e-6
    assert carries.vehicles > int(course.lap_m / float(track.gap.at(course.fastest_mps)))


def check_page(track: SharedTrack) -> None:
    """It plays everybody where the replay has them, and what an author writes is no markup of it."""
    page = page_of_share(track)
    assert "<b>Three" not in page
    drawn = page.split('<pre tabindex="0">')[1].split("</pre>")[0]
    assert "\nB car 2 |" in drawn
    data = json.loads(page.split('id="share-data">')[1].split("</script>")[0])
    assert [one["name"] for one in data["users"]] == ["car 1", "car 2", "car 3"]
    assert data["excursions"] == ["cool"]
    for user, run in zip(data["users"], track.runs, strict=True):
        seen = see(run, np.array([one[1][-1] - 2.0 for one in user["laps"]]), ["cool"])
        for (kind, days, own), station in zip(user["laps"], seen.at_m, strict=True):
            lap = data["kinds"][kind]
            height = np.interp(np.interp(days[-1] - 2.0, days, own), lap["t"], lap["s"])
            assert height == pytest.approx(station, abs=0.2)


def test_more_than_the_main_path_carries_drive_in_rounds(tmp_path: Path) -> None:
    """Two at a time are a headway of 500 m apart on a mile; the bound is near what was proved by looking at all."""
    text = SHARE.replace("single: [cool]", "headway: {margin: 500 m}")
    file = written(tmp_path, text)
    (tmp_path / "circuit.yaml").write_text(MILE.replace("laps: 12", "laps: 4"), encoding="utf-8")
    track = plan_share(file)
    assert track.well
    assert track.found is not None
    assert track.found.proved
    bound = bound_of(track.jobs, track.gap)
    assert "no more than 2 can drive laps at a time" in bound.because
    assert 0.95 * track.found.ends_s <= bound.ends_s <= track.found.ends_s + 1e-3


def test_who_stands_aside_is_passed(tmp_path: Path) -> None:
    """Differences that can't be are those at which the replay finds somebody too near; a stop at a turn-off is none."""
    early = COOL.replace("{for: 10 min}", "{at: yard, for: 2 min}")
    early = early.replace("{line: 80 m}", "{line: 10 m, name: yard}, {line: 70 m}")
    (tmp_path / "circuit.yaml").write_text(MILE + early, encoding="utf-8")
    course = course_of(plan_circuit(load_circuit(tmp_path / "circuit.yaml")))
    gap, single = Gap(1.0, 2.0, 20.0), frozenset({"cool"})
    (leg,) = course.legs
    forbidden = forbidden_between(leg, leg, gap, single)
    random = np.random.default_rng(5)
    tried, wrong = {True: 0, False: 0}, []
    for d in random.uniform(10.0, 0.4 * course.lasts_s, 60):
        near = any(low - 1.5 < d < high + 1.5 for low, high in forbidden)
        inside = any(low + 1.5 < d < high - 1.5 for low, high in forbidden)
        if near and not inside:
            continue  # the replay looks every quarter of a second
        tried[inside] += 1
        found = breaches([Run("a", course, (0.0,)), Run("b", course, (float(d),))], gap, single)
        if bool(found) != inside:
            wrong.append(d)
    assert wrong == []
    assert min(tried.values()) > 5


def test_eight_with_a_basin_and_a_pit_are_within_5_percent_of_the_bound() -> None:
    track = plan_share(Path("scenarios/circuits/eight-on-stone-setts.yaml"))
    assert track.well
    assert track.found is not None
    assert track.found.ends_s <= 1.05 * track.solved.bound.ends_s
    assert "`pit` is taken 8 times" in track.solved.bound.because
    waits = [one for number in range(8) for one in waits_of(track, number)]
    assert {place for place, _, _ in waits} <= {"cool", "pit"}
    assert waits
    firsts = [track.starts_s(number)[0] for number in range(8)]
    assert firsts == sorted(firsts)


def test_eight_with_a_shorter_pit_are_within_5_percent_of_the_bound(tmp_path: Path) -> None:
    """The basin before the pit is taken by who waits for it, so neither place alone tells how long it takes."""
    for name in ("stone-setts.yaml", "eight-on-stone-setts.yaml"):
        text = (CIRCUITS / name).read_text(encoding="utf-8").replace("for: 10 min", "for: 5 min")
        (tmp_path / name).write_text(text, encoding="utf-8")
    track = plan_share(tmp_path / "eight-on-stone-setts.yaml")
    assert track.well
    assert track.found is not None
    assert track.found.ends_s <= 1.05 * track.solved.bound.ends_s
    assert "`cool` and `pit` have one user at a time" in track.solved.bound.because


def test_visitors_share_the_excursion_of_a_circuit(tmp_path: Path) -> None:
    visitor = (
        "vehicles:\n  van: {visits: [{at: scales, for: 5 min}, {at: cool, for: 20 min}]}\n  car:"
    )
    text = SHARE.replace("vehicles: {car:", visitor).replace("count: 3}}", "count: 1}")
    track = plan_share(written(tmp_path, text))
    assert track.found is not None
    in_cool = []
    for number, job in enumerate(track.jobs):
        starts = track.starts_s(number)
        in_cool += [
            tuple(starts[k] + after for k, after in (use.enters, use.leaves))
            for use in job.uses
            if use.place == "cool"
        ]
    assert len(in_cool) == 3
    in_cool.sort()
    assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(in_cool))


def test_nobody_is_in_the_zone_of_a_staged_test_while_it_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its runs also take their turn in the basin; the replay finds vehicles in the zone at any other time."""
    monkeypatch.setattr(solving, "MOST_LOOKS", 100_000)
    monkeypatch.setattr(solving, "MOST_CHOICES", 0)
    monkeypatch.setattr(solving, "NEAR", 9.0)
    pad = (CIRCUITS / "walker-on-pad.yaml").resolve()
    test = f"{{walker: {{staged: {pad}, runs: 3, between runs: 30 s, at: cool}}, car:"
    track = plan_share(
        written(tmp_path, SHARE.replace("{car:", test).replace("count: 3", "count: 2"))
    )
    assert track.well
    ((staged, spans),) = track.stands
    assert len(spans) == 3
    assert [b[0] - a[1] >= 30.0 - 1e-6 for a, b in pairwise(spans)] == [True, True]
    always = ((staged, ((0.0, track.found.ends_s if track.found else 0.0),)),)
    assert {one.behind for one in intruders(track.runs, always)} == {"car 1", "car 2"}
    basin = [
        tuple(track.starts_s(number)[k] + after for k, after in (use.enters, use.leaves))
        for number, job in enumerate(track.jobs)
        for use in job.uses
        if use.place == "cool"
    ]
    assert len(basin) == 7
    basin.sort()
    assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(basin))
    text = " ".join(str(one) for one in content_of_share(track).sections)
    assert "vehicles that drive through it: 2, 24 times in all" in text
    assert '"zones": [{"name": "walker"' in page_of_share(track).replace('":', '": ').replace(
        "  ", " "
    )


def test_too_little_time_is_told_with_the_fewest_that_do_not_fit(tmp_path: Path) -> None:
    track = plan_share(written(tmp_path, SHARE + "within: 2680 s\n"))
    assert track.jobs[0].alone_s < 2680.0
    assert track.found is None
    assert len(track.solved.conflict) == 2
    assert "2 of the 3 `car`" in str(content_of_share(track).sections[0])
    assert not track.well


def test_what_the_places_alone_rule_out_is_told_with_the_fewest() -> None:
    """Each of both places has room for four: only together they have not."""

    def job(number: int) -> Job:
        legs = (("basin", 1.0, 3.0), ("pit", 4.0, 6.0), ("basin", 4.0, 5.0))
        uses, lasts = [], [0.0]
        for place, way, use in legs:
            lasts[-1] += way + use
            uses.append(Use(place, (len(lasts) - 1, way), (len(lasts), 0.0)))
            lasts.append(0.0)
        return Job(f"car {number}", "car", "car", 0.0, tuple(lasts), tuple(uses))

    jobs, gap = [job(number) for number in range(5)], Gap(1.0, 4.0, 20.0)
    best = timetable(places_of(jobs[:4]))
    assert best is not None
    within = best.ends_s - 0.5
    assert bound_of(jobs[:4], gap).ends_s < within
    assert no_places(jobs[:4], within)
    assert not no_places(jobs[:4], within + 1.0)
    solved = solving.solve(jobs, gap, frozenset(), within)
    assert solved.found is None
    assert len(solved.conflict) <= 4


VAN = """\
choreo share: 1
title: A van
vehicles: {van: {visits: [{at: lift, for: 60 s}, {at: scales, for: 60 s}], ready: 20 min}}
within: 2.5 min
"""


def test_time_is_counted_from_when_the_first_is_ready(tmp_path: Path) -> None:
    file = tmp_path / "share.yaml"
    file.write_text(VAN, encoding="utf-8")
    assert plan_share(file).well
    late = "vehicles: {late: {visits: [{at: lift, for: 100 s}], ready: 21 min}, "
    file.write_text(VAN.replace("vehicles: {", late), encoding="utf-8")
    track = plan_share(file)
    # A minute later than the van, and then 100 s.
    assert [one.name for one in track.solved.conflict] == ["late"]
    told = str(content_of_share(track).sections[0])
    assert "With the site to itself it takes 100.0 s, and is ready 60.0 s after the first." in told
    assert "fewer others wouldn't" in told
    file.write_text(VAN.replace("2.5 min", "110 s"), encoding="utf-8")
    assert not plan_share(file).well


def test_the_document_has_waits_that_are_too_short_for_a_row(tmp_path: Path) -> None:
    file = tmp_path / "share.yaml"
    file.write_text(VAN, encoding="utf-8")
    track = plan_share(file)
    assert track.found is not None
    assert json.loads(text_of_share(track))["users"][0]["waits"] == []
    later = replace(track.found, starts_s=(1200.0, 1260.04))
    track = replace(track, solved=replace(track.solved, found=later))
    (wait,) = json.loads(text_of_share(track))["users"][0]["waits"]
    assert wait == {"place": "before scales", "since_s": 1260.0, "for_s": pytest.approx(0.04)}
    assert "waits" not in {one.title for one in content_of_share(track).sections}


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        ("count: 3", "count: 0", "scenario.bad-value"),
        ("{car: {file: circuit.yaml, count: 3}}", "{}", "scenario.bad-value"),
        ("{file: circuit.yaml, count: 3}", "{visits: []}", "scenario.bad-value"),
        ("count: 3}", "count: 40}, van: {file: circuit.yaml, count: 40}", "scenario.bad-value"),
        ("[cool]", "[cold]", "scenario.unknown-name"),
        (
            "count: 3}",
            "count: 3}, van: {visits: [{at: col, for: 5 min}]}",
            "scenario.unknown-name",
        ),
        ("count: 3", "count: 3, runs: 2", "scenario.bad-value"),
        (
            "{file: circuit.yaml, count: 3}}\nsingle: [cool]",
            f"{{staged: {WALL}}}}}",
            "share.no-staged-run",
        ),
        ("circuit.yaml", "other.yaml", "input.missing-file"),
        ("choreo share: 1", "choreo circuit: 1", "scenario.not-the-kind"),
    ],
)
def test_faults_are_told_by_code(tmp_path: Path, before: str, after: str, code: str) -> None:
    with pytest.raises(ChoreoError) as told:
        plan_share(written(tmp_path, SHARE.replace(before, after)))
    assert code in {one.code for one in told.value.findings}


@pytest.mark.parametrize(
    ("places", "slips"),
    [
        (("lift", "lift", "lfit"), ["lfit"]),
        (("lfit", "lift", "lift"), ["lfit"]),
        (("lift", "lfit"), ["lfit"]),
        (("lift1", "lift-2", "lift-2"), []),
        (("bay-a", "bay_b"), []),
        (("left-lift", "right-lift", "scales"), []),
    ],
)
def test_a_place_named_nearly_as_another_is_warned_of(
    tmp_path: Path, places: tuple[str, ...], slips: list[str]
) -> None:
    file = tmp_path / "site.yaml"
    visits = [f"  car{n}: {{visits: [{{at: {one}, for: 5 min}}]}}" for n, one in enumerate(places)]
    lines = ["choreo share: 1", "title: Places", "vehicles:", *visits]
    file.write_text("\n".join(lines), encoding="utf-8")
    notes = load_share(file).notes
    assert [one.values["place"] for one in notes] == slips
    for one in notes:
        assert one.origin is not None
        assert slips[0] in lines[one.origin.line - 1]
    told = [one for one in warnings_of(plan_share(file)) if one.code == "share.alike-places"]
    assert len(told) == len(slips)


def test_a_shared_site_and_its_circuits_are_looked_over_without_a_plan(tmp_path: Path) -> None:
    file = written(tmp_path, SHARE)
    assert check_files((file, tmp_path / "circuit.yaml"), as_json=True) == WELL
    (tmp_path / "circuit.yaml").write_text(MILE.replace("laps: 12", "laps: 0"), encoding="utf-8")
    assert check_files((file,), as_json=True) == BAD_INPUT


def test_segments_keep_out_of_forbidden_differences() -> None:
    segments = (Segment(0, 10.0), Segment(1, 10.0), Segment(2, 10.0))
    pairs = ((0, 1), (0, 2), (1, 2))
    sharing = Sharing(segments, tuple(Apart(a, b, ((-3.0, 4.0), (5.0, 20.0))) for a, b in pairs))
    found, quick = timetable(sharing), searched(sharing, 10.0, 100_000)
    assert found is not None
    # The last one first, 3 s between each two.
    assert found.ends_s == pytest.approx(16.0, abs=1e-3)
    assert quick.ends_s == pytest.approx(16.0, abs=1e-3)
    assert sharing.broken(quick.starts_s) == []
    assert sharing.broken((0.0, 2.0, 30.0)) != []
    assert merged([(0.0, 2.0), (1.0, 3.0), (5.0, 6.0)]) == ((0.0, 3.0), (5.0, 6.0))
    assert gaps_of(((0.0, 3.0),))[1][0] == 3.0


def test_all_that_are_alike_stand_so_long_that_the_others_fit_between() -> None:
    """A place is used for 2 s, again for 2 s after a drive of 1 s or more; three are done after 12 s at best."""
    segments, uses = [], []
    for job in range(3):
        segments += [Segment(job, 2.0), Segment(job, 3.0)]
        uses += [(job, 2 * job, 0.0, 2.0), (job, 2 * job + 1, 1.0, 3.0)]
    aparts = tuple(
        Apart(a[1], b[1], ((a[2] - b[3], a[3] - b[2]),))
        for a, b in combinations(uses, 2)
        if a[0] < b[0]
    )
    sharing = Sharing(tuple(segments), aparts, (), ("car",) * 3)
    found = patterned(sharing, 12.0)
    assert found is not None
    assert sharing.broken(found.starts_s) == []
    assert found.ends_s == pytest.approx(12.0, abs=0.01)
    assert patterned(replace(sharing, kinds=()), 12.0) is None


def test_who_stops_very_often_may_wait_in_every_second_stop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planning, "MOST_STOPS", 1)
    monkeypatch.setattr(solving, "MOST_LOOKS", 200_000)
    monkeypatch.setattr(solving, "NEAR", 2.0)
    track = plan_share(written(tmp_path, SHARE.replace("count: 3", "count: 2")))
    assert track.well
    assert [len(one.lasts_s) for one in track.jobs] == [2, 2]
    stands = sum("cool" in lap.key.excursions for lap, _, _ in track.runs[0].laps())
    assert stands == 2


def test_places_held_across_a_wait_have_one_user() -> None:
    """Search, its mirror and the programme agree; a plan in which two hold the place at once is told."""
    random = np.random.default_rng(3)
    for _ in range(3):
        segments, uses = [], []
        for job in range(4):
            first, second = random.integers(2, 9, 2)
            segments += [Segment(job, float(first)), Segment(job, float(second))]
            uses.append((2 * job, float(first) - 1.0, 2 * job + 1, 1.0))
        orders = [
            Order(
                (a[0], a[2]),
                (b[0], b[2]),
                ((a[2], b[0], a[3] - b[1]),),
                ((b[2], a[0], b[3] - a[1]),),
            )
            for a, b in combinations(uses, 2)
        ]
        sharing = Sharing(tuple(segments), (), tuple(orders))
        best, quick = timetable(sharing), searched(sharing, 0.0, 300_000)
        assert best is not None
        assert sharing.broken(best.starts_s) == []
        assert sharing.broken(quick.starts_s) == []
        assert quick.ends_s == pytest.approx(best.ends_s, abs=1e-3)
        together = tuple(0.0 if n % 2 == 0 else s.lasts_s for n, s in enumerate(segments))
        assert sharing.broken(together) != []
