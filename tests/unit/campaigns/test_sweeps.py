"""Sweeps: the same rows in any order and number of processes, the same plans as alone; nothing lost, nothing twice."""

import multiprocessing
import os
import shutil
import signal
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from choreo.campaigns import processes, store, sweeping
from choreo.campaigns.documents import to_csv, to_text
from choreo.campaigns.reading import load_campaign
from choreo.campaigns.records import Campaign, Row, Variant
from choreo.campaigns.solving import REPAIRS_S, Asked, Walk, figures_of, reason_of
from choreo.campaigns.store import Store
from choreo.campaigns.sweeping import Swept, by_processes, sweep
from choreo.campaigns.table import MOST_FAILING, table_of
from choreo.case import Case, answer, case_of, simulating
from choreo.plans.document import from_text
from choreo.plans.message import Message
from choreo.plans.record import Budget, BudgetLine, Plan
from choreo.scenario import load
from choreo.solve import Solved
from choreo.verification import Verification
from choreo.words import ChoreoError

SCENARIOS = Path(__file__).parents[3] / "scenarios"
CAMPAIGN = """\
choreo campaign: 1
title: Two runs
runs:
  near:
    scenario: walker-nearside.yaml
    vary: {test_speed: [20 km/h, 60 km/h], step_out latency: [40 ms, 60 ms]}
  stopped:
    scenario: stationary-target.yaml
    vary: {test_speed: [20 km/h, 60 km/h, 125 km/h], subject acceleration: [1 m/s2]}
"""
IMPOSSIBLE = """\
  stopped:
    scenario: stationary-target.yaml
    together: {test_speed: [125 km/h], subject acceleration: [1 m/s2]}
"""
KEPT = Asked(documents=True)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A campaign file with copies of its scenarios beside it."""
    for name in ("walker-nearside.yaml", "stationary-target.yaml", "sites", "fleet"):
        one = SCENARIOS / name
        (shutil.copytree if one.is_dir() else shutil.copy)(one, tmp_path / name)
    file = tmp_path / "week.yaml"
    file.write_text(CAMPAIGN, encoding="utf-8")
    return file


@pytest.fixture(autouse=True)
def _small_batches(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sweeping, "BATCH", 2)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Swept:
    """The campaign swept by one process, without a store."""
    folder = tmp_path_factory.mktemp("whole")
    shutil.copytree(SCENARIOS, folder, dirs_exist_ok=True)
    (folder / "week.yaml").write_text(CAMPAIGN, encoding="utf-8")
    return sweep(load_campaign(folder / "week.yaml"), Asked(), by_processes(1))


def swept(file: Path, jobs: int = 1) -> Swept:
    with closing(Store(file.parent / "week.sqlite")) as opened:
        return sweep(load_campaign(file), KEPT, by_processes(jobs), store=opened)


def told(found: Swept) -> tuple[str, str]:
    return to_csv(found), to_text(found)


def test_rows_are_the_same_bytes_with_any_number_of_processes_and_from_the_store(
    file: Path, whole: Swept
) -> None:
    assert told(swept(file, 2)) == told(whole)
    assert told(swept(file)) == told(whole)
    assert [row.verdict for row in whole.rows] == ["feasible"] * 6 + ["infeasible"]
    assert "short by" in whole.rows[-1].reason


def test_a_variant_is_planned_as_its_scenario_alone_whatever_came_before(file: Path) -> None:
    campaign = load_campaign(file)
    variants = [one for one in campaign.variants() if one.run == "near"]
    assert len(variants) == 4
    alone = {}
    text = (file.parent / "walker-nearside.yaml").read_text(encoding="utf-8")
    for one in variants:
        edited = text.replace("test_speed: 40 km/h", f"test_speed: {one.values['test_speed']}")
        edited = edited.replace("latency: 60 ms", f"latency: {one.values['step_out latency']}")
        (file.parent / "alone.yaml").write_text(edited, encoding="utf-8")
        alone[one.name] = answer(case_of(load(file.parent / "alone.yaml"))).plan
    for order in (variants, variants[::-1]):
        rows = list(Walk(campaign, KEPT).rows(order))
        assert len(rows) == 4
        for row in rows:
            plan = alone[row.name]
            assert row.verdict == plan.verdict
            assert row.fingerprint == plan.fingerprint
            assert row.figures == pytest.approx(figures_of(plan), abs=1e-6)
            kept = from_text(zlib.decompress(row.document).decode(), row.name)
            assert kept.movers["subject"].start.station_m == pytest.approx(
                plan.movers["subject"].start.station_m, abs=1e-6
            )


class Refused(Exception):
    """The simulation doesn't agree with a plan."""


@pytest.mark.parametrize(("off_m", "off_s"), [(0.002, 0.0), (0.0, 0.001)])
def test_a_plan_that_is_a_little_off_is_refused_among_its_neighbours(
    file: Path, monkeypatch: pytest.MonkeyPatch, off_m: float, off_s: float
) -> None:
    planned, judged, faulty = simulating.planned, simulating.judged, False

    def altered(case: Case, solved: Solved, warnings: tuple[Message, ...]) -> Plan:
        plan = planned(case, solved, warnings)
        if not faulty:
            return plan
        subject = plan.movers["subject"]
        start = replace(subject.start, station_m=subject.start.station_m + off_m)
        off = replace(subject, start=start, launch_s=subject.launch_s + off_s)
        return replace(plan, movers={**plan.movers, "subject": off})

    def told_of(plan: Plan, verification: Verification) -> Plan:
        found = judged(plan, verification)
        if found.verdict != "feasible":
            raise Refused
        return found

    monkeypatch.setattr(simulating, "planned", altered)
    monkeypatch.setattr(simulating, "judged", told_of)
    campaign = load_campaign(file)
    first, second, third, fourth = (one for one in campaign.variants() if one.run == "near")
    walk = Walk(campaign, KEPT)
    assert [walk.row(one).verdict for one in (first, second)] == ["feasible", "feasible"]
    faulty = True
    with pytest.raises(Refused):
        walk.row(third)
    faulty = False
    assert walk.row(fourth).verdict == "feasible"


def _die_after_the_first_batch(file: Path) -> None:
    def tell(done: int, _of: int) -> None:
        if done:
            os.kill(os.getpid(), signal.SIGKILL)

    opened = Store(file.parent / "week.sqlite")
    sweep(load_campaign(file), KEPT, by_processes(1), store=opened, tell=tell)


def test_a_sweep_that_is_killed_goes_on_from_there(file: Path, whole: Swept) -> None:
    child = multiprocessing.get_context("fork").Process(
        target=_die_after_the_first_batch, args=(file,)
    )
    child.start()
    child.join()
    assert child.exitcode == -signal.SIGKILL
    found = swept(file)
    assert found.solved == 5
    assert told(found) == told(whole)


def _solve_or_die(batch: list[Variant]) -> list[Row]:
    """Die of the first batch of stationary targets, once."""
    flag = Path(os.environ["CHOREO_TEST_FLAG"])
    if batch[0].run == "stopped" and not flag.exists():
        flag.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return list(processes._WALKS[0].rows(batch))


def _always_die(batch: list[Variant]) -> list[Row]:
    if batch[0].run == "stopped":
        os.kill(os.getpid(), signal.SIGKILL)
    return list(processes._WALKS[0].rows(batch))


def test_a_process_that_dies_takes_no_answer_with_it(
    file: Path, whole: Swept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CHOREO_TEST_FLAG", str(file.parent / "died"))
    monkeypatch.setattr(processes, "solve", _solve_or_die)
    found = swept(file, 2)
    assert (file.parent / "died").exists()
    assert told(found) == told(whole)


def test_processes_end_with_the_one_that_began_them(monkeypatch: pytest.MonkeyPatch) -> None:
    parents = [7, 7, 1]
    ended: list[int] = []
    monkeypatch.setattr(processes.os, "getppid", lambda: parents.pop(0))
    monkeypatch.setattr(processes.os, "_exit", ended.append)
    monkeypatch.setattr(processes, "LOOKS_EVERY_S", 0.0)
    processes._watch(7)
    assert (parents, ended) == ([], [1])


def test_variants_of_which_every_process_dies_are_told_and_the_others_kept(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(processes, "solve", _always_die)
    with pytest.raises(ChoreoError) as caught:
        swept(file, 2)
    assert "from `stopped/test_speed=" in caught.value.findings[0].text
    with closing(Store(file.parent / "week.sqlite")) as opened:
        assert {name.split("/")[0] for name in opened.known()} <= {"near"}


@pytest.fixture
def opened(file: Path) -> Iterator[Store]:
    with closing(Store(file.parent / "week.sqlite")) as opened:
        yield opened


def test_a_store_that_another_program_has_locked_is_told_and_stays(
    file: Path, opened: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "PATIENCE_MS", 10)
    other = sqlite3.connect(file.parent / "week.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(ChoreoError) as caught:
        swept(file)
    assert "locked" in caught.value.findings[0].text
    other.execute("ROLLBACK")
    other.close()
    assert opened.known() == {}
    assert swept(file).solved == 7


def test_a_full_disk_is_told_and_what_was_kept_before_stays(file: Path, opened: Store) -> None:
    campaign = load_campaign(file)
    (pages,) = opened._base.execute("PRAGMA page_count").fetchone()
    opened._base.execute(f"PRAGMA max_page_count = {pages + 5}")
    with pytest.raises(ChoreoError) as caught:
        sweep(campaign, KEPT, by_processes(1), store=opened)
    assert "full" in caught.value.findings[0].text
    kept = len(opened.known())
    assert 0 < kept < 7
    opened._base.execute("PRAGMA max_page_count = 100000")
    assert sweep(campaign, KEPT, by_processes(1), store=opened).solved == 7 - kept


def test_only_what_changed_is_solved_again(file: Path) -> None:
    first = swept(file)
    assert first.solved == 7
    scenario = file.parent / "stationary-target.yaml"
    text = scenario.read_text(encoding="utf-8")
    scenario.write_text(f"# a remark\n{text}", encoding="utf-8")
    assert swept(file).solved == 0
    file.write_text(CAMPAIGN.replace("60 km/h, 125", "30 km/h, 60 km/h, 125"), encoding="utf-8")
    assert swept(file).solved == 1
    changed = text.replace("brake: 5 m/s2", "brake: 4 m/s2")
    assert changed != text
    scenario.write_text(changed, encoding="utf-8")
    again = swept(file)
    assert again.solved == 4
    assert again.rows[:4] == tuple(replace(row) for row in first.rows[:4])
    assert again.rows[4].figures != first.rows[4].figures
    assert swept(file).solved == 0


def test_answers_to_more_than_is_asked_serve_and_stay(file: Path, opened: Store) -> None:
    file.write_text(CAMPAIGN[: CAMPAIGN.index("  near:")] + IMPOSSIBLE, encoding="utf-8")
    campaign, solving = load_campaign(file), by_processes(1)
    assert sweep(campaign, KEPT, solving, store=opened).solved == 1
    asked = replace(KEPT, room=True, repairs_s=REPAIRS_S)
    more = sweep(campaign, asked, solving, store=opened)
    assert more.solved == 1
    assert more.rows[0].repair
    less = sweep(campaign, KEPT, solving, store=opened)
    assert (less.solved, less.rows) == (0, more.rows)
    scenario = file.parent / "stationary-target.yaml"
    scenario.write_text(f"# a remark\n{scenario.read_text(encoding='utf-8')}", encoding="utf-8")
    less = sweep(campaign, KEPT, solving, store=opened)
    assert (less.solved, less.rows) == (0, more.rows)
    assert sweep(campaign, asked, solving, store=opened).solved == 0


def test_two_sweeps_may_make_a_store_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another one makes it between the look whether it is there and the making."""
    make = Store._make

    def second(one: Store) -> None:
        monkeypatch.setattr(Store, "_make", make)
        Store(one.path).close()
        make(one)

    monkeypatch.setattr(Store, "_make", second)
    with closing(Store(tmp_path / "week.sqlite")) as opened:
        assert opened.known() == {}


@pytest.mark.parametrize("what", ["vals = '{'", "figures = ''", "document = x'00'", "whole"])
def test_a_damaged_store_is_told_and_left_alone(file: Path, opened: Store, what: str) -> None:
    one = next(iter(load_campaign(file).variants()))
    opened.put([(Row(one.name, one.run, one.values, "", "", "feasible"), "")])
    opened.close()
    path = file.parent / "week.sqlite"
    if what == "whole":
        path.write_bytes(path.read_bytes()[:-5000])
    else:
        with closing(sqlite3.connect(path)) as base, base:
            base.execute(f"UPDATE variants SET {what}")
    before = path.read_bytes()
    with pytest.raises(ChoreoError) as caught, closing(Store(path)) as again:
        again.row(one.name)
    assert "damaged" in caught.value.findings[0].text
    assert path.read_bytes() == before


def test_another_programs_file_is_refused_and_left_alone(tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(other)) as base:
        base.execute("CREATE TABLE mine (one)")
    text = tmp_path / "notes.txt"
    text.write_text(
        "not a database, though as long as the header of one is; that is a hundred bytes " * 3
    )
    for file in (other, text):
        before = file.read_bytes()
        with pytest.raises(ChoreoError) as caught:
            Store(file)
        assert caught.value.findings[0].code == "campaign.store"
        assert file.read_bytes() == before


def test_another_campaigns_store_is_refused_and_left_alone(file: Path, opened: Store) -> None:
    campaign = load_campaign(file)
    one = next(iter(campaign.variants()))
    opened.claim(campaign.title, campaign.runs)
    opened.put([(Row(one.name, one.run, one.values, "", "", "feasible"), "")])
    opened.claim("Two runs, edited", ["near"])
    with pytest.raises(ChoreoError) as caught:
        opened.claim("Another week", ["far"])
    assert "another campaign, `Two runs, edited`" in caught.value.findings[0].text
    assert len(opened.known()) == 1


def test_a_variant_that_makes_no_scenario_is_a_row_with_its_fault(whole: Swept) -> None:
    campaign: Campaign = whole.campaign
    (row,) = Walk(campaign, Asked()).rows([Variant("stopped", {"test_speed": "400 km/h"})])
    assert row.verdict is None
    assert "400 km/h" in row.reason


def test_a_plan_that_is_driven_otherwise_than_usual_says_so_in_its_row(whole: Swept) -> None:
    plan = answer(case_of(load(SCENARIOS / "slower-lead.yaml"))).plan
    assert reason_of(plan) == ""
    told = [Message(code, "warning", f"by {code}", "", None) for code in ("other", "plan.gentler")]
    reason = reason_of(replace(plan, warnings=tuple(told)))
    assert reason == "by plan.gentler"
    row = whole.rows[0]
    rows = [replace(row, run="a", reason="gentler")] * 30 + [replace(row, run="a")] * 40
    swept = Swept(whole.campaign, tuple(rows), 0)
    lines = list(table_of(swept, 120))
    assert sum("gentler" in line for line in lines) == MOST_FAILING
    assert f"  and {30 - MOST_FAILING} more that are driven otherwise than usual" in lines


def test_the_reason_of_a_row_stands_by_itself() -> None:
    plan = answer(case_of(load(SCENARIOS / "stationary-target.yaml"))).plan
    needs = [BudgetLine(what, 1.0, None) for what in ("lead at cut_out", "a", "b", "c", "d")]
    for pieces, told in ((1, "lead at cut_out; a"), (4, "lead at cut_out; a; b; c; 1 more")):
        budget = Budget("these can't all hold", "", "m", needs[0], tuple(needs[1:][:pieces]), 0.5)
        impossible = replace(plan, verdict="infeasible", budgets=(budget,))
        assert reason_of(impossible) == f"these can't all hold ({told}): short by 0.500 m"
    budget = Budget("these can't all hold", "", "m", needs[0], (), 0.5)
    told = reason_of(replace(plan, verdict="infeasible", budgets=(budget,)))
    assert told == "lead at cut_out can't hold: short by 0.500 m"
    within = replace(budget, available=BudgetLine("walker ramp: within", 1.0, None))
    told = reason_of(replace(plan, verdict="infeasible", budgets=(within,)))
    assert told == "walker ramp can't keep to its `within`: short by 0.500 m"
