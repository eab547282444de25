"""Verdicts on random scenarios agree with a judge that shares no code with the product.

The same comparison with more scenarios: `python tools/harness.py --count 20000 --jobs 2`.
"""

import ast
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.harness import compare, judge
from tests.harness.generator import make
from tests.harness.judge import CLOSE_CALL, IMPOSSIBLE, POSSIBLE, UNEVEN
from tests.harness.linear import most_slack
from tests.harness.ramps import quickest
from tests.harness.records import Case, Contact, Mover, Phase, Trigger, text_of
from tests.harness.records import Path as Way
from tests.harness.witness import witness_faults

CHUNKS, CHUNK = 6, 40
HARNESS = Path(judge.__file__).parent
# At most this share of a chunk may be undecided though an even ramp would do; the aim is 0.01 overall.
WEAK_SHARE = 0.05


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_no_verdict_on_a_random_scenario_is_wrong(chunk: int) -> None:
    found = compare.count(range(chunk * CHUNK, (chunk + 1) * CHUNK), compare.quick_verdict_of)
    wrong = [
        f"seed {one.case.seed}: judge {one.judged}, choreo {one.verdict} {one.detail}"
        for one in found.wrong
    ]
    assert wrong == []
    assert len(found.weak) <= WEAK_SHARE * found.total, [one.case.seed for one in found.weak]


@pytest.mark.parametrize("chunk", range(2))
def test_no_proof_excludes_what_can_be_driven(chunk: int) -> None:
    """Also the proofs that the product would not ask for, because it has found a plan."""
    wrong = {}
    for seed in range(5000 + 50 * chunk, 5000 + 50 * (chunk + 1)):
        case = make(seed)
        if judge.judge(case)[0] == POSSIBLE:
            proofs = compare.proofs_against(text_of(case))
            if proofs:
                wrong[seed] = proofs
    assert wrong == {}


@pytest.mark.parametrize(
    ("judged", "verdict", "wrong"),
    [
        (IMPOSSIBLE, "feasible", True),
        (POSSIBLE, "infeasible", True),
        (UNEVEN, "infeasible", True),
        (POSSIBLE, "crashed", True),
        (POSSIBLE, "refused", True),
        (POSSIBLE, "feasible", False),
        (IMPOSSIBLE, "infeasible", False),
        (IMPOSSIBLE, "refused", False),
        (POSSIBLE, "undecided", False),
        (CLOSE_CALL, "feasible", False),
        (CLOSE_CALL, "infeasible", False),
    ],
)
def test_the_comparison_knows_which_disagreements_are_wrong(
    judged: str, verdict: str, wrong: bool
) -> None:
    assert compare.is_wrong(judged, verdict) is wrong


@pytest.mark.parametrize("lie", ["feasible", "infeasible", "crashed"])
def test_a_product_that_always_says_the_same_is_caught(lie: str) -> None:
    found = compare.Count()
    for seed in range(40):
        found.add(compare.outcome_of(seed, lambda _text: (lie, "")))
    assert len(found.wrong) >= 10


def test_a_judge_that_is_wrong_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A judge that takes every ramp for shorter than it can be calls impossible plans possible."""
    real = judge.quickest

    def shorter(*arguments: object, **named: object) -> object:
        profile = real(*arguments, **named)  # type: ignore[arg-type]
        return replace(profile, times=profile.times * 0.8, ways=profile.ways * 0.8)

    seeds = range(0, 40)
    cases = {seed: make(seed) for seed in seeds}
    truth = {seed: judge.judge(cases[seed])[0] for seed in seeds}
    monkeypatch.setattr(judge, "quickest", shorter)
    monkeypatch.setattr(compare, "make", cases.get)
    as_it_is = {text_of(cases[seed]): truth[seed] for seed in seeds}
    words = {POSSIBLE: "feasible", IMPOSSIBLE: "infeasible"}
    found = compare.Count()
    for seed in seeds:
        found.add(
            compare.outcome_of(seed, lambda text: (words.get(as_it_is[text], "undecided"), ""))
        )
    assert found.wrong


def test_the_judge_shares_no_code_with_the_product() -> None:
    imported = set()
    for name in (
        "judge",
        "linear",
        "ramps",
        "witness",
        "records",
        "generator",
        "families",
        "knobs",
        "draws",
    ):
        for node in ast.walk(ast.parse((HARNESS / f"{name}.py").read_text())):
            if isinstance(node, ast.Import):
                imported |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                imported.add((node.module or "").split(".")[0])
    assert imported <= {
        "__future__", "collections", "dataclasses", "functools", "math", "numpy", "tests", "typing",
    }  # fmt: skip


def test_every_possible_comes_with_a_motion_that_can_be_driven() -> None:
    faults = {}
    driven = 0
    for seed in range(120):
        case = make(seed)
        judged, drives = judge.judge(case)
        if judged == POSSIBLE:
            driven += 1
            found = witness_faults(case, drives)
            if found:
                faults[seed] = found
    assert faults == {}
    assert driven > 40


def test_a_motion_that_breaks_the_scenario_is_seen_by_the_driver() -> None:
    caught = 0
    for seed in range(60):
        case = make(seed)
        judged, drives = judge.judge(case)
        if judged != POSSIBLE:
            continue
        late = {
            name: replace(drive, launch_s=drive.launch_s + 0.01) if name == "walker" else drive
            for name, drive in drives.items()
        }
        if "walker" in late:
            caught += 1
            assert witness_faults(case, late)
    assert caught > 5


def test_no_random_motion_does_what_the_judge_calls_impossible() -> None:
    """Dense random plans of the one-walker families, driven forward: none reaches the contact in time."""
    rng = np.random.default_rng(1)
    tried = 0
    for seed in range(0, 400, 8):
        case = make(seed)
        if judge.judge(case)[0] != IMPOSSIBLE:
            continue
        for _ in range(300):
            tried += 1
            assert not _random_plan_works(case, rng), seed
    assert tried > 1000


def _random_plan_works(case: Case, rng: np.random.Generator) -> bool:
    """Quickest-to-gentle trapezia and random settings, straight from the scenario's words."""
    subject, walker = case.mover("subject"), case.mover("walker")
    contact, trigger = case.encounters[0], case.triggers[0]
    assert isinstance(contact, Contact)
    at = contact.cross_m - walker.width_m / 2 - subject.front_m
    way = contact.aside_m + (-contact.impact_m if contact.from_left else contact.impact_m)
    time_b, length_b, rest_b = _random_way(walker, walker.phases[1], way, rng)
    if time_b is None:
        return False
    before = time_b + trigger.latency_s + 0.5 / trigger.sampling_hz
    speed = subject.phases[0].to_mps
    _, length_a, rest_a = _random_ramp(subject, speed, rng)
    hold = subject.phases[1].settle_s + before
    start = at - length_a - hold * speed
    low, high = max(0.0, subject.start[0]), min(subject.start[1], subject.path.length_m)
    longer = rng.uniform(0, 5) if rng.random() < 0.5 else 0.0
    start -= longer * speed
    ends = at + rest_a <= subject.path.length_m and way + rest_b <= walker.path.length_m
    strokes = at + rest_a - start <= subject.stroke_m and way + rest_b <= walker.stroke_m
    within = walker.phases[1].within_m
    short = within is None or length_b <= within
    return bool(low <= start <= high and ends and strokes and short)


def _random_way(
    mover: Mover, ramp: Phase, way: float, rng: np.random.Generator
) -> tuple[float | None, float, float]:
    lasts, length, rest = _random_ramp(mover, ramp.to_mps, rng)
    hold = (way - length) / ramp.to_mps
    if hold < mover.phases[2].settle_s:
        return None, length, rest
    return lasts + hold, length, rest


def _random_ramp(
    mover: Mover, speed: float, rng: np.random.Generator
) -> tuple[float, float, float]:
    """Duration and length of a ramp inside the limits, and the length of the stop (v^2 / 2b + v b / 2j)."""
    a = mover.table[0][1] * (rng.uniform(0.3, 1.0) if rng.random() < 0.7 else 1.0)
    a = min(a, math.sqrt(speed * mover.jerk_mps3))
    lasts = speed / a + a / mover.jerk_mps3
    b = mover.phases[-1].rate_mps2 or mover.brake_mps2
    b = min(b, math.sqrt(speed * mover.jerk_mps3))
    return lasts, lasts * speed / 2, speed * (speed / b + b / mover.jerk_mps3) / 2


def test_the_quickest_ramp_is_what_tiny_forward_steps_give() -> None:
    """0 -> 20 m/s under a table, jerk 2: forward until braking the acceleration in time just works."""
    table, jerk, to = ((0.0, 3.5), (15.0, 2.5), (36.0, 1.0)), 2.0, 20.0
    speed = way = accel = time = 0.0
    step = 1e-4
    while speed < to - 1e-9 and accel >= 0.0:
        cap = np.interp(speed, [v for v, _ in table], [a for _, a in table])
        release = math.sqrt(2 * jerk * max(to - speed, 0.0))
        after = min(accel + jerk * step, cap, release)
        way += speed * step + (2 * accel + after) * step * step / 6
        speed += (accel + after) * step / 2
        accel, time = after, time + step
        if release < 1e-3:
            break
    profile = quickest(0.0, to, table, jerk)
    assert profile.lasts_s == pytest.approx(time, abs=2e-3)
    assert profile.covers_m == pytest.approx(way, abs=0.03)


def test_the_quickest_ramp_under_constant_limits_is_the_textbook_one() -> None:
    v, a, j = 40 / 3.6, 3.0, 4.0
    profile = quickest(0.0, v, ((0.0, a),), j)
    assert profile.lasts_s == pytest.approx(v / a + a / j, rel=1e-12)
    assert profile.covers_m == pytest.approx(v * (v / a + a / j) / 2, rel=1e-12)


def test_the_slack_is_what_a_fine_grid_finds() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        rows = np.column_stack([rng.normal(size=(6, 2)), rng.uniform(-0.5, 1, 6)])
        box = np.array([[1.0, 0, 1], [-1, 0, 1], [0, 1, 1], [0, -1, 1]])
        every = np.vstack([rows, box])
        x, y = np.meshgrid(np.linspace(-2, 2, 801), np.linspace(-2, 2, 801))
        grid = (every[:, :1, None] * x + every[:, 1:2, None] * y + every[:, 2:, None]).min(axis=0)
        slack, _ = most_slack(every, np.zeros((0, 3)))
        assert slack == pytest.approx(min(grid.max(), 1.0), abs=0.02)
        assert slack >= min(grid.max(), 1.0) - 1e-12


def test_equations_that_contradict_each_other_are_impossible() -> None:
    equal = np.array([[1.0, 0.0, -1.0], [1.0, 0.0, -3.0]])
    slack, _ = most_slack(np.array([[0.0, 1.0, 0.0]]), equal)
    assert slack == pytest.approx(-1.0)


def test_a_hand_worked_walker_has_its_edge_where_arithmetic_puts_it() -> None:
    """Runway at 10 m/s: ramp 100/2/2 = 25 m, settle 1 s, trigger 0.1 + 0.005 s, walker 1 + 3/2 s."""
    lane = Way(0.0, 0.0, 0.0, 500.0)
    side = Way(300.0, -4.0, 90.0, 20.0)
    subject = Mover(
        "subject", "subject", lane, "lane", 4.0, 2.0, 3.0, ((0.0, 2.0),), 5.0,
        (Phase("ramp", to_mps=10.0), Phase("hold", settle_s=1.0, until="contact"), Phase("stop")),
    )  # fmt: skip
    walker = Mover(
        "walker", "pedestrian", side, "side", 0.6, 0.5, 0.3, ((0.0, 2.0),), 2.0,
        (
            Phase("wait", trigger="step_out"), Phase("ramp", to_mps=2.0),
            Phase("hold", until="contact"), Phase("stop"),
        ),
        start=(0.0, 0.0),
    )  # fmt: skip
    trigger = Trigger(
        "step_out", "subject", "time to collision", (-math.inf, math.inf), "contact", 0.1, 100
    )
    contact = Contact("contact", "subject", "walker", 300.0, 4.0, False, 0.0)
    case = Case("by hand", "edge", 0, (subject, walker), (trigger,), (contact,))
    least = 300 - 0.25 - 3 - 25 - 10 * (1 + 0.105 + 1 + 1.5)
    enough = case.with_mover("subject", start=(least - 0.001, 500.0))
    # A miss of up to 1 mm counts as rounding.
    short = case.with_mover("subject", start=(least + 0.002, 500.0))
    assert judge.judge(enough)[0] == POSSIBLE
    assert judge.judge(short)[0] == IMPOSSIBLE
    assert compare.verdict_of(text_of(enough))[0] == "feasible"
    assert compare.verdict_of(text_of(short))[0] == "infeasible"
