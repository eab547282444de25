"""Published test matrices as campaigns: how many cells they have, and the bundled ones among them."""

from pathlib import Path

import pytest

from choreo.campaigns.day.hours import Hours
from choreo.campaigns.day.order import timetable
from choreo.campaigns.day.records import Job, Rules
from choreo.campaigns.reading import load_campaign
from choreo.campaigns.solving import Asked, Walk
from choreo.campaigns.written import CampaignWritten
from choreo.scenario.making.draft import Draft
from choreo.scenario.making.matrix import matrix_of
from choreo.scenario.text.document import parse_document
from choreo.words import errors_of

FOLDER = Path(__file__).parents[2] / "scenarios" / "campaigns"

# Speeds of the car under test, of the other one, and places on its front, of EN-FC v1.1; each cell is one combination.
FIVE, SEVEN = "[0 %, 25 %, 50 %, 75 %, 100 %]", "[-25 %, 0 %, 25 %, 50 %, 75 %, 100 %, 125 %]"
THREE, WITH_ENDS = "[25 %, 50 %, 75 %]", "[10 %, 25 %, 50 %, 75 %, 90 %]"
SLOW = "20..60 km/h by 10 km/h"
# Of cars that meet head-on: speeds in step.
HEAD_ON = {30: 50, 40: 50, 50: 50, 60: 70, 70: 70, 80: 70, 90: 90, 100: 100}

# Runs of the bundled grids of which one cell is planned here.
BY_SAMPLE = (
    "car-slower-30",
    "car-braking",
    "car-oncoming-100",
    "car-changing-70",
    "car-turning",
    "motorcycle-crossing",
    "bicycle-along",
    "bicycle-turning",
)


def cells(*runs: str) -> list[int]:
    """Give how many variants each run of a campaign has, from the text of its block."""
    text = "choreo campaign: 1\ntitle: cells\nruns:\n"
    text += "".join(
        f"  r{number}: {{scenario: any.yaml, {run}}}\n" for number, run in enumerate(runs)
    )
    document = parse_document(text, "cells.yaml")
    written = CampaignWritten.model_validate(document.data)
    draft = Draft(document)
    found = [
        len(list(matrix_of(draft, ("runs", name), run, None).combinations()))
        for name, run in written.runs.items()
    ]
    assert errors_of(draft.findings) == ()
    return found


def grid(own: str, places: str) -> str:
    return f"vary: {{own: {own}, place: {places}}}"


def head_on(most: int, places: str) -> str:
    """Pairs of speeds in step, up to so many km/h of the car's own, each with places."""
    own = ", ".join(f"{one} km/h" for one in HEAD_ON if one <= most)
    other = ", ".join(f"{HEAD_ON[one]} km/h" for one in HEAD_ON if one <= most)
    return f"together: {{own: [{own}], other: [{other}]}}, vary: {{place: {places}}}"


def test_grids_of_cars_and_motorcycles() -> None:
    """C190, C191, C194: sizes of the grids, standard and extended; those of the lane head-on are told only as a sum."""
    standard = cells(
        grid("10..80 km/h by 10 km/h", FIVE),
        grid("30..130 km/h by 10 km/h", FIVE),
        grid("30..80 km/h by 10 km/h", FIVE),
        head_on(80, THREE),
        grid("10..80 km/h by 10 km/h", THREE),
        grid("30..80 km/h by 10 km/h", THREE),
        "vary: {own: [10 km/h, 15 km/h, 20 km/h], other: [30 km/h, 45 km/h, 60 km/h]}",
        "vary: {own: [10 km/h, 15 km/h, 20 km/h], other: [30 km/h, 45 km/h, 60 km/h]}",
        f"vary: {{own: {SLOW}, other: {SLOW}}}",
        f"vary: {{own: {SLOW}, other: {SLOW}}}",
    )
    assert standard == [40, 55, 30, 18, 24, 18, 9, 9, 25, 25]
    braking = [
        grid("30..80 km/h by 10 km/h", "[-25 %, 125 %]"),
        grid("90..130 km/h by 10 km/h", SEVEN),
    ]
    assert sum(cells(*braking)) == 47
    whole = cells(
        grid("10..80 km/h by 10 km/h", SEVEN),
        grid("30..130 km/h by 10 km/h", SEVEN),
        grid("30..130 km/h by 10 km/h", SEVEN),
        head_on(100, "[25 %, 50 %, 75 %, 100 %]"),
        grid("10..80 km/h by 10 km/h", WITH_ENDS),
        grid("30..130 km/h by 10 km/h", WITH_ENDS),
        "vary: {own: 10..25 km/h by 5 km/h, other: [30 km/h, 45 km/h, 60 km/h, 80 km/h]}",
        "vary: {own: 10..25 km/h by 5 km/h, other: [30 km/h, 45 km/h, 60 km/h, 80 km/h]}",
    )
    crossing = 33
    assert [one - of for one, of in zip(whole, standard, strict=False)] == [
        16,
        22,
        47,
        14,
        16,
        37,
        7,
        7,
    ]
    assert sum(whole) + 2 * crossing == 467 - 32


def test_pairs_of_crossing_cars() -> None:
    """C193: 33 of 49 pairs, and the bundled campaign has them."""
    fast = [
        f"{{own: {own} km/h, other: {other} km/h}}"
        for own in range(20, 90, 10)
        for other in range(20, 90, 10)
        if max(own, other) > 60 and min(own, other) > 30
    ]
    assert len(fast) == 16
    all_pairs = "vary: {own: 20..80 km/h by 10 km/h, other: 20..80 km/h by 10 km/h}"
    assert cells(all_pairs, f"{all_pairs}, without: [{', '.join(fast)}]") == [49, 33]
    assert load_campaign(FOLDER / "crossing-targets.yaml").most == 33


def test_grids_of_walkers_and_bicyclists() -> None:
    """C190, C192: 445 cells, of which 83 turn."""
    four = "[10 %, 25 %, 50 %, 75 %]"
    crossing, hidden = (grid("10..60 km/h by 10 km/h", places) for places in (WITH_ENDS, THREE))
    # Along the lane it brakes at the lower speeds and warns at the higher ones.
    warning = grid("50..80 km/h by 10 km/h", four)
    walker = sum(cells(grid("10..60 km/h by 10 km/h", four), warning))
    bicycle = sum(cells(grid("20..60 km/h by 10 km/h", four), warning))
    crossings = cells(*[crossing] * 4, *[hidden] * 2, *[crossing] * 3)
    whole = [walker, walker, bicycle, *crossings]
    standard = [10, 10, 9, 18, 18, 6, 6, 6, 6, 12, 12, 12]
    extended = [30, 30, 27, 12, 12, 24, 24, 12, 12, 18, 18, 18]
    assert whole == [one + more for one, more in zip(standard, extended, strict=True)]
    assert sum(whole) == 362 == 445 - 83
    bundled = load_campaign(FOLDER / "crossing-walkers.yaml")
    # By day, those that cross: walkers near, far and hidden, bicyclists near, hidden and far.
    assert sorted(run.most for run in bundled.runs.values()) == [18, 30, 30, 30, 30, 30]


def test_bundled_grids_are_all_but_what_has_no_published_path() -> None:
    """C190: 912 cells, without 63 turns towards walkers and bicyclists; 20 turns towards these have a path."""
    campaign = load_campaign(FOLDER / "frontal-grids.yaml")
    assert campaign.most == 912 - 83 + 20
    changing = [one.most for name, one in campaign.runs.items() if "changing" in name]
    assert sum(changing) == 8 * 4
    names = [one.name for one in campaign.variants()]
    assert len(set(names)) == len(names)
    # One variant of each run is a scenario that is planned; all of them are where the README tells the time.
    firsts = [next(run.variants()) for name, run in campaign.runs.items() if name in BY_SAMPLE]
    assert len(firsts) == len(BY_SAMPLE)
    assert {row.verdict for row in Walk(campaign, Asked()).rows(firsts)} == {"feasible"}


def test_runs_of_a_verification_and_their_spacing() -> None:
    """C195, C196: three runs a case, four of cars head-on, five of crossing ones; two of each extended."""
    counts = [3] * 7 + [4] * 2 + [5] * 2 + [3] * 16
    assert (sum(counts[:11]), sum(counts[11:])) == (39, 48)
    runs = sum(counts) + 2 * len(counts)
    assert runs == 141
    for gap_s, hours in ((90.0, 3.525), (600.0, 23.5)):
        rules = Rules(Hours(0.0, 86400.0), gap_s)
        jobs = [
            Job(str(case), 0, 0.0, 0.0, {}, tries=tries + 2) for case, tries in enumerate(counts)
        ]
        entries = timetable(rules, jobs).entries
        assert len(entries) == runs
        assert (entries[-1].start_s + gap_s) / 3600.0 == pytest.approx(hours)


def test_sizes_of_other_grids() -> None:
    """C197: 55 cells of collisions at low speed, 242 of lane departures, 76 of vehicle assistance."""
    staying = [5, 7, 3, 4, 6, 6, 6, 6, 12]
    departing = [36, 24, 54, 25, 24, 54, 25]
    sizes = cells(
        *(f"vary: {{own: 1..{size} km/h by 1 km/h}}" for size in (*staying, *departing, 76))
    )
    assert sum(sizes[: len(staying)]) == 55
    assert sum(sizes[len(staying) : -1]) == 242
    assert sizes[-1] == 76


def test_runs_of_the_lattice() -> None:
    """C198, C201: 115 runs, eight corners of a braking lead."""
    campaign = load_campaign(FOLDER / "fmvss-127-lattice.yaml")
    assert campaign.most == 115
    assert campaign.runs["braking-lead"].most == 2**3


def test_runs_at_both_masses() -> None:
    """C199: eleven cells, both masses, twice."""
    campaign = load_campaign(FOLDER / "r152-speeds.yaml")
    assert campaign.most == 22
    assert sum(one.repeats for one in campaign.variants()) == 44


def test_cut_ins_without_a_target_that_reverses() -> None:
    """C200: of 25 pairs 19 keep the target's speed from zero up, 210 variants each."""
    rest = (
        "gap: 0..60 m by 10 m, aside: 0.5..3 m/s by 0.5 m/s, "
        "rate: [-3 m/s2, -1.5 m/s2, 0 m/s2, 1.5 m/s2, 3 m/s2]"
    )
    runs = []
    for own in range(20, 70, 10):
        targets = [f"{own - less} km/h" for less in range(10, 60, 10) if less <= own]
        runs.append(f"vary: {{own: [{own} km/h], target: [{', '.join(targets)}], {rest}}}")
    assert sum(cells(*runs)) == 3990


def test_run_up_of_the_crossing_target() -> None:
    """C29: at 1 m/s2, half a second to settle, 3.5 s steady."""
    campaign = load_campaign(FOLDER / "crossing-targets.yaml")
    wanted = {"60 km/h": 205.556, "80 km/h": 335.802}
    variants = [
        one
        for one in campaign.variants()
        if one.values["crossing_speed"] in wanted and one.values["test_speed"] == "20 km/h"
    ]
    assert len(variants) == 2
    for row in Walk(campaign, Asked()).rows(variants):
        run_up_m = row.figures["target run-up"]
        assert run_up_m == pytest.approx(wanted[row.values["crossing_speed"]], abs=0.01)
