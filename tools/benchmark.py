"""Measure choreo: the answer is checked before the time, and ratios come from the same run.

    python tools/benchmark.py            the whole table
    python tools/benchmark.py --quick    without the whole-process rows

References: the elementary closed form of a jerk-limited ramp; ruckig (community version) for one ramp; and two
other ways to write the same two-mover problem, below, with CasADi and IPOPT: a plain time grid of 100 intervals for
every phase, and a grid written with care (one interval a hold, a good start).
"""

from __future__ import annotations

import argparse
import math
import platform
import resource
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

import casadi as ca  # noqa: E402
import numpy as np  # noqa: E402
import ruckig  # noqa: E402
import shapely  # noqa: E402

from choreo.campaigns.records import Campaign, Variant  # noqa: E402
from choreo.linear.reading import reading_of  # noqa: E402
from choreo.linear.search import Search  # noqa: E402
from choreo.linear.stage import objective  # noqa: E402
from choreo.linear.writing import model_of  # noqa: E402
from choreo.motion import rated_ramp  # noqa: E402
from choreo.problem import Problem  # noqa: E402
from choreo.problem.records import Ramp  # noqa: E402
from choreo.solve import Solution, Solver, solve_linear  # noqa: E402
from choreo.solve.ipopt import OPTIONS  # noqa: E402
from tests.hand_made import walker_problem  # noqa: E402
from tools.counts import bundled, count_plan  # noqa: E402
from tools.large import plan, run  # noqa: E402

KMH = 1 / 3.6
INTERVALS = 100
IMPOSSIBLE = ROOT / "scenarios" / "impossible"
JUNCTION = ROOT / "scenarios" / "junction-crossing.yaml"
L_PAD = ROOT / "scenarios" / "sites" / "l-pad.yaml"
ERROR_RUNS = ROOT / "scenarios" / "two-encounters.yaml"
SLOWER_LEAD = ROOT / "scenarios" / "slower-lead.yaml"
THREE_MOVERS = ROOT / "scenarios" / "cut-out-reveals-stationary.yaml"


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    what: str
    measured: str
    reach: str


def best_of(action: Callable[[], object], repeats: int) -> float:
    """Median wall time in seconds of several runs, after one to warm up."""
    action()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def least_cpu(action: Callable[[], object], repeats: int) -> float:
    """Least CPU time in seconds of several runs, after one to warm up."""
    action()
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(time.process_time() - start)
    return min(times)


def process_rows() -> list[Row]:
    """Whole processes, CPU time, least of several; compiled bytecode present (the first run writes it)."""
    rows = []
    for words, reach in (
        (["--help"], "0.25 s"),
        (["check", str(THREE_MOVERS)], "0.45 s"),
        (["plan", str(THREE_MOVERS)], "0.65 s"),
        (["place", str(JUNCTION), "--site", str(L_PAD)], "3 s"),
    ):
        taken = [run(words) for _ in range(5)]
        if any(one.code for one in taken):
            raise SystemExit(f"{words} answered {taken[-1].code}")
        shown = " ".join([words[0], *(Path(a).name for a in words[1:])])
        least_s = min(one.cpu_s for one in taken[1:])
        rows.append(Row(f"`choreo {shown}`, whole process, CPU time", f"{least_s:.2f} s", reach))
    return rows


def large_rows() -> list[Row]:
    """Large scenarios by formula (`tools/large.py`), whole processes: CPU time and memory."""
    rows = []
    for what, family, size, reach in (
        ("20 movers with 20 triggers", "walkers", 20.0, "3 s"),
        ("20 cars in a line", "line", 20.0, "10 s"),
        ("a path of 10,000 pieces", "pieces", 10_000.0, "1 s"),
        ("100,000 surveyed points", "survey", 100_000.0, "3 s, 300 MB"),
        ("10,000 surveyed points, rough, 5 cm apart", "dense", 10_000.0, "10 s"),
        ("a lane of 32 km", "lane", 32.0, "10 s"),
    ):
        took = plan(family, size)
        measured = f"{took.cpu_s:.1f} s, {took.most_mb:.0f} MB"
        rows.append(Row(f"`choreo plan`, {what}", measured, reach))
    return rows


def three_mover_rows() -> list[Row]:
    """Build and first solve of three movers inside one process."""
    from choreo.problem import build_staging
    from choreo.scenario import load

    problem = build_staging(load(THREE_MOVERS)).problem

    def build_and_solve() -> None:
        if not Solver(problem).solve(problem).solved:
            raise SystemExit("the three-mover scenario was not solved")

    return [
        Row(
            "three movers: build and first solve",
            f"{1e3 * best_of(build_and_solve, 9):.1f} ms",
            "60 ms",
        )
    ]


def clearance_row() -> Row:
    """The certified least distance of one pair, against shapely distances of both bodies every millisecond."""
    from choreo.case import whole_answer
    from choreo.room.clearance import nearest
    from choreo.scenario import load
    from choreo.track.tracks import track_of

    whole = whole_answer(load(THREE_MOVERS))
    a, b = (
        track_of(
            name,
            whole.plan.movers[name],
            whole.paths[name],
            np.array(whole.scenario.movers[name].body.corners_m),
        )
        for name in ("subject", "lead")
    )
    end = np.array([max(a.end_s, b.end_s)])
    times = np.arange(0.0, end[0], 0.001)

    def sampled() -> float:
        shapes = (shapely.polygons(one.corners(times)) for one in (a, b))
        return float(shapely.distance(*shapes).min())

    bound = nearest(a, b, np.zeros(1), end).least_m[0]
    excess_mm = (sampled() - bound) * 1000
    ratio = best_of(sampled, 5) / best_of(lambda: nearest(a, b, np.zeros(1), end), 5)
    return Row(
        "clearance of a pair against samples every millisecond",
        f"{ratio:.0f} times faster, {excess_mm:.2f} mm less",
        "at most 1 mm less",
    )


def explanation_row() -> Row:
    """Planned and explained: each quantity's least change, confirmed by a verified plan, or that it can't help."""
    from choreo.case import whole_answer
    from choreo.repair import explain
    from choreo.scenario import load

    taken = []
    for file in sorted(IMPOSSIBLE.glob("*.yaml")):
        scenario = load(file)
        found = explain(whole_answer(scenario))
        if found.plan.verdict != "infeasible" or not found.repairs:
            raise SystemExit(f"{file.name} was not explained")
        taken.append(least_cpu(lambda scenario=scenario: explain(whole_answer(scenario)), 3))
    return Row(
        f"planning and explaining {len(taken)} impossible scenarios: least, middle, most",
        f"{min(taken):.2f}, {statistics.median(taken):.2f}, {max(taken):.2f} s",
        "0.3 s",
    )


def error_rows() -> list[Row]:
    """Runs with usual errors of three movers: drawn, executed, judged and folded on one core; first order; memory."""
    from choreo.case import whole_answer
    from choreo.errors.first_order import first_order
    from choreo.errors.monte_carlo import told_of
    from choreo.errors.sources import sources_of
    from choreo.errors.stage import Stage, stage_of
    from choreo.scenario import ErrorSource, Scenario, Spread, load

    whole = whole_answer(load(ERROR_RUNS))
    stage = stage_of(whole.scenario, whole.paths, whole.plan)
    usual = sources_of(whole.scenario)

    def wandering(scenario: Scenario) -> tuple[ErrorSource, ...]:
        size = Spread("normal", 0.0, 0.2 * KMH)
        return tuple(
            ErrorSource("speed wander", name, size, over=3.0)
            for name, mover in scenario.movers.items()
            if mover.programme
        )

    def staged(name: str) -> tuple[Stage, tuple[ErrorSource, ...]]:
        other = whole_answer(load(ROOT / "scenarios" / f"{name}.yaml"))
        return stage_of(other.scenario, other.paths, other.plan), sources_of(other.scenario)

    runs = 100_000
    in_step, four = staged("errors-in-step"), staged(THREE_MOVERS.stem)
    stepping = least_cpu(lambda: told_of(*in_step, runs, 1), 1)
    cut_out = least_cpu(lambda: told_of(*four, runs, 1), 3)
    plain = least_cpu(lambda: told_of(stage, usual, runs, 1), 3)
    wander = least_cpu(lambda: told_of(stage, (*usual, *wandering(whole.scenario)), runs, 1), 1)
    slopes = least_cpu(lambda: first_order(stage, usual), 9)
    told_of(stage, usual, 1_000_000, 1)
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return [
        Row(
            "100,000 runs with errors, three movers; their speeds wandering",
            f"{plain:.2f} s; {wander:.1f} s",
            "1 s; 5 s",
        ),
        Row(
            f"the same of {THREE_MOVERS.stem}; of errors-in-step, one in step",
            f"{cut_out:.2f} s; {stepping:.1f} s",
            "1 s; 5 s",
        ),
        Row(f"first order, {len(usual)} sources", f"{1e3 * slopes:.0f} ms", "20 ms"),
        Row("memory of this process after a million runs", f"{most_mb:.0f} MB", "500 MB"),
    ]


def build_rows() -> list[Row]:
    """How often a programme is written and a path built, worst of the bundled scenarios."""
    found = [count_plan(file) for file in bundled()]
    solvers = max(one["solvers"] for one in found)
    paths = max(n for one in found for what, n in one.items() if what.startswith("path "))
    what = "`choreo plan`, worst bundled scenario: solvers, builds of one path"
    return [Row(what, f"{solvers} and {paths}", "at most 1 and 1")]


def variant_row() -> Row:
    """Neighbours of a known structure, one core."""
    solver = Solver(walker_problem(40 * KMH))
    near = solver.solve(walker_problem(40 * KMH))
    problems = [walker_problem((40 + step / 2) * KMH) for step in range(1, 21)]

    def sweep() -> None:
        for problem in problems:
            if not solver.solve(problem, near=near).solved:
                raise SystemExit("a variant was not solved")

    return Row(
        "one more variant of a known structure (two movers)",
        f"{1e3 * best_of(sweep, 5) / len(problems):.1f} ms",
        "4 ms",
    )


def speeds_of(file: Path, speeds: str) -> Campaign:
    """A campaign of one scenario at a list of speeds."""
    from choreo.campaigns.reading import load_campaign

    with TemporaryDirectory() as folder:
        campaign = Path(folder) / "sweep.yaml"
        campaign.write_text(
            f"choreo campaign: 1\ntitle: sweep\nruns:\n  one:\n    scenario: {file}\n"
            f"    vary: {{test_speed: {speeds}}}\n"
        )
        return load_campaign(campaign)


def thousand_row() -> Row:
    """A whole sweep in two processes, kept in a store or not, against `choreo plan`'s work for each scenario alone."""
    from choreo.campaigns.solving import Asked
    from choreo.campaigns.store import Store
    from choreo.campaigns.sweeping import by_processes, sweep
    from choreo.case import whole_answer
    from choreo.scenario import load

    read = speeds_of(THREE_MOVERS, "40..59.98 km/h by 0.02 km/h")

    def cpu_s() -> float:
        used = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
        return sum(one.ru_utime + one.ru_stime for one in used)

    taken = []
    for kept in (False, True):
        with TemporaryDirectory() as folder:
            store = Store(Path(folder) / "sweep.sqlite") if kept else None
            before, began = cpu_s(), time.perf_counter()
            found = sweep(read, Asked(documents=kept), by_processes(2), store=store)
            taken.append((time.perf_counter() - began, cpu_s() - before))
            if store is not None:
                store.close()
        if len(found.rows) != 1000 or any(row.verdict != "feasible" for row in found.rows):
            raise SystemExit("a variant was not solved")
    alone = least_cpu(lambda: whole_answer(load(THREE_MOVERS)), 3)
    (wall_s, plain_s), (kept_wall_s, kept_s) = taken
    return Row(
        "1,000 variants of a three-mover scenario in two processes; kept in a store; `choreo plan`'s work for each",
        f"{wall_s:.1f} s ({plain_s:.1f} CPU s); {kept_wall_s:.1f} s ({kept_s:.1f} CPU s); "
        f"{1000 * alone:.0f} CPU s, {1000 * alone / plain_s:.1f} and {1000 * alone / kept_s:.1f} times as long",
        "2 s on two cores",
    )


def sweep_rows() -> list[Row]:
    """A variant of a sweep on one core, against the same scenario loaded and answered alone in a loop."""
    from choreo.campaigns.solving import Asked, Walk
    from choreo.case import answer, case_of
    from choreo.scenario import load

    rows = []
    for file, name in ((SLOWER_LEAD, "two movers in a lane"), (THREE_MOVERS, "three movers")):
        read = speeds_of(file, "45..49 km/h by 0.2 km/h")
        variants = list(read.variants())

        def sweep(read: Campaign = read, variants: list[Variant] = variants) -> None:
            if any(row.verdict != "feasible" for row in Walk(read, Asked()).rows(variants)):
                raise SystemExit("a variant was not solved")

        mine = least_cpu(sweep, 2) / len(variants)
        alone = least_cpu(lambda file=file: answer(case_of(load(file))), 3)
        rows.append(
            Row(
                f"a variant of a sweep, {name}, one core; a loop over scenarios",
                f"{1e3 * mine:.1f} ms; {alone / mine:.1f} times as long",
                "4 ms",
            )
        )
    return rows


def closed_form_start_m(speed: float) -> float:
    """Start station of the subject in walker_problem by the elementary formulas."""
    walk = rated_ramp(0, 5 * KMH, 2, build_up_jerk_mps3=20, release_jerk_mps3=20)
    lead = walk.duration_s + (4 - walk.distance_m) / (5 * KMH) + 0.06 + 0.005
    return 306.35 - speed * (speed / 3 + 3 / 4) / 2 - speed * (2 + lead)


def optimum_row() -> Row:
    """Relative error of the run-up against the closed form, worst of several speeds."""
    worst = 0.0
    for kmh in (20, 40, 60, 80):
        problem = walker_problem(kmh * KMH)
        start = Solver(problem).solve(problem).reading.movers["subject"].start_m
        run_up = 306.35 - closed_form_start_m(kmh * KMH)
        worst = max(worst, abs(306.35 - start - run_up) / run_up)
    return Row("optimum against the closed form, relative", f"{worst:.1e}", "1e-6")


def ruckig_row() -> Row:
    """One ramp 0 -> 50 km/h: duration difference, and time of the closed form against ruckig."""
    request = ruckig.InputParameter(1)
    request.control_interface = ruckig.ControlInterface.Velocity
    request.current_velocity, request.target_velocity = [0.0], [50 * KMH]
    request.max_acceleration, request.max_jerk = [3.0], [5.0]
    reference, trajectory = ruckig.Ruckig(1), ruckig.Trajectory(1)

    def theirs() -> None:
        for _ in range(1000):
            reference.calculate(request, trajectory)

    def ours() -> None:
        for _ in range(1000):
            rated_ramp(0, 50 * KMH, 3, build_up_jerk_mps3=5, release_jerk_mps3=5)

    theirs()
    shape = rated_ramp(0, 50 * KMH, 3, build_up_jerk_mps3=5, release_jerk_mps3=5)
    difference = abs(shape.duration_s - trajectory.duration)
    ratio = best_of(ours, 9) / best_of(theirs, 9)
    return Row(
        "one ramp against ruckig",
        f"{difference:.0e} s apart, {ratio:.2f} of its time",
        "same duration",
    )


class Transcription:
    """The two-mover problem as a general multi-phase transcription writes it: states at nodes, rows between them.

    Jerk is constant inside an interval and integrated exactly (kinder than usual collocation); speed and acceleration
    limits hold at the nodes. Nothing is known in closed form. intervals: of a ramp; holds have one, and the start is a
    good one, unless it is plain. free: intervals have lengths of their own, which is multiple shooting; three are
    enough then, and exact. The subject's speed is a parameter, so that a programme once built serves its neighbours.
    """

    def __init__(
        self, speed: float, intervals: int, *, plain: bool = False, free: bool = False
    ) -> None:
        self.intervals, self.plain, self.free = intervals, plain, free
        self.speed, self.given = speed, ca.SX.sym("speed")
        self.unknowns: list[ca.SX] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.guess: list[float] = []
        self.rows: list[ca.SX] = []
        self.row_low: list[float] = []
        self.row_high: list[float] = []
        walk = 5 * KMH
        # A good start is what one finds on the back of an envelope: 10 m off.
        self.at_m = 200.0 if plain else closed_form_start_m(speed) - 10.0
        start = self.unknown("start", 0, 400, self.at_m)
        at, _ = self.phase("subject ramp", start, 0, speed, 3.0, 4.0)
        contact, hold_s = self.phase("subject hold", at, speed, speed, 0.0, 0.0)
        rest, _ = self.phase("subject stop", contact, speed, 0, 5.0, 4.0)
        self.row(contact, 306.35, 306.35)
        self.row(rest, 0, 400)
        self.at_m = 0.0
        at, walk_ramp_s = self.phase("walker ramp", ca.SX(0), 0, walk, 2.0, 20.0)
        self.row(at, 0, 1.0)
        met, walk_hold_s = self.phase("walker hold", at, walk, walk, 0.0, 0.0)
        self.row(met, 4.0, 4.0)
        walk_rest, _ = self.phase("walker stop", met, walk, 0, 2.0, 20.0)
        # Settled for 2 s when the trigger fires, which is as long before the contact as the walker needs.
        self.row(hold_s - (walk_ramp_s + walk_hold_s + 0.065), 2.0, ca.inf)
        total = rest - start + walk_rest
        x, g = ca.vertcat(*self.unknowns), ca.vertcat(*self.rows)
        problem = {"x": x, "p": self.given, "f": total, "g": g}
        # A plain grid lacks the good starting point that a small first barrier is chosen for.
        left_out = {"mu_init"} if plain else set()
        ipopt = {key: value for key, value in OPTIONS["ipopt"].items() if key not in left_out}
        self.solver = ca.nlpsol("grid", "ipopt", problem, {**OPTIONS, "ipopt": ipopt})
        self.problem, self.near = problem, None
        self.warm: ca.Function | None = None

    def unknown(self, name: str, low: float, high: float, guess: float) -> ca.SX:
        """Add one unknown."""
        self.unknowns.append(ca.SX.sym(name))
        self.lower.append(low)
        self.upper.append(high)
        self.guess.append(guess)
        return self.unknowns[-1]

    def row(self, expression: ca.SX, low: float, high: float) -> None:
        """Add one row."""
        self.rows.append(expression)
        self.row_low.append(low)
        self.row_high.append(high)

    def said(self, speed: float) -> ca.SX:
        """The parameter where a speed is the subject's, else a number."""
        return self.given if speed == self.speed else ca.SX(speed)

    def pieces(self, v0: float, v1: float, accel: float, jerk: float) -> list[tuple[float, float]]:
        """Share of a phase's time and jerk to start from, for each interval."""
        if v0 == v1 and not self.plain:
            return [(1.0, 0.0)]
        if not self.free:
            return [(1 / self.intervals, 0.0)] * self.intervals
        # Build up, keep, release: what anyone would draw who drives.
        build_s, sign = accel / jerk, math.copysign(1.0, v1 - v0)
        keep_s = max(abs(v1 - v0) / accel - build_s, 0.05)
        total = 2 * build_s + keep_s
        return [
            (build_s / total, sign * jerk),
            (keep_s / total, 0.0),
            (build_s / total, -sign * jerk),
        ]

    def phase(
        self, name: str, at: ca.SX, v0: float, v1: float, accel: float, jerk: float
    ) -> tuple[ca.SX, ca.SX]:
        """Add a phase from a station; give its end station and its duration."""
        guess_s = 4.0 if v0 == v1 else abs(v1 - v0) / accel + accel / jerk
        pieces = self.pieces(v0, v1, accel, jerk)
        lengths = self.lengths(name, guess_s, pieces)
        s, v, a = at, self.said(v0), ca.SX(0)
        share, speed, rate, place = 0.0, v0, 0.0, self.at_m
        for k, (step, (part, push)) in enumerate(zip(lengths, pieces, strict=True)):
            share += part
            before = speed
            u = part * guess_s
            speed = (
                v0 + share * (v1 - v0)
                if not push and not rate
                else speed + u * (rate + u * push / 2)
            )
            rate += u * push
            place += u * (before + speed) / 2
            if not self.free:
                place = self.at_m + share * guess_s * (v0 + speed) / 2
            j = self.unknown(f"{name} j{k}", -jerk, jerk, push)
            nodes = (
                self.unknown(f"{name} s{k}", 0, 1000, 100 if self.plain else place),
                self.unknown(f"{name} v{k}", min(v0, v1), max(v0, v1), min(speed, max(v0, v1))),
                self.unknown(f"{name} a{k}", -accel, accel, rate),
            )
            self.row(s + step * (v + step * (a / 2 + step * j / 6)) - nodes[0], 0, 0)
            self.row(v + step * (a + step * j / 2) - nodes[1], 0, 0)
            self.row(a + step * j - nodes[2], 0, 0)
            s, v, a = nodes
        self.row(v - self.said(v1), 0, 0)
        self.row(a, 0, 0)
        self.at_m += guess_s * (v0 + v1) / 2
        return s, ca.sum1(ca.vertcat(*lengths)) if self.free else lengths[0] * len(lengths)

    def lengths(self, name: str, guess_s: float, pieces: list[tuple[float, float]]) -> list[ca.SX]:
        """The intervals' lengths in s: each its own, or all alike."""
        if self.free:
            return [
                self.unknown(f"{name} T{k}", 0.0, 60, part * guess_s)
                for k, (part, _) in enumerate(pieces)
            ]
        return [self.unknown(f"{name} T", 0.05, 60, guess_s) / len(pieces)] * len(pieces)

    def solve(self) -> float:
        """Total runway in m, from the guess."""
        return self._run(self.solver, self.speed, x0=self.guess)

    def solve_beside(self, speed: float) -> float:
        """Total runway in m at a speed beside, from the solution found last with its multipliers."""
        if self.warm is None:
            ipopt = {**OPTIONS["ipopt"], **WARM}
            self.warm = ca.nlpsol("warm", "ipopt", self.problem, {**OPTIONS, "ipopt": ipopt})
        kept = self.near
        found = self._run(
            self.warm, speed, x0=kept["x"], lam_x0=kept["lam_x"], lam_g0=kept["lam_g"]
        )
        self.near = kept
        return found

    def _run(self, solver: ca.Function, speed: float, **start: Any) -> float:
        # Between a phase's two speeds, of which the subject's may be one.
        lower, upper = (
            [speed if one == self.speed else one for one in side]
            for side in (self.lower, self.upper)
        )
        result = solver(
            p=speed,
            lbx=lower,
            ubx=upper,
            lbg=self.row_low,
            ubg=self.row_high,
            **start,
        )
        if not solver.stats()["success"]:
            raise SystemExit("a rival was not solved: " + solver.stats()["return_status"])
        self.near = result
        return float(result["f"])


def total_runway_m(solution: Solution) -> float:
    """Total runway of all movers in m."""
    return sum(
        motion.phases[-1].end_m - motion.start_m for motion in solution.reading.movers.values()
    )


def at_the_limit(problem: Problem) -> Problem:
    """The walker's ramp without its `within`, which says a rate: the shortest plan is at the limit anyway."""
    subject, walker = problem.movers
    phases = tuple(
        replace(one, within_m=None) if isinstance(one, Ramp) else one for one in walker.phases
    )
    return replace(problem, movers=(subject, replace(walker, phases=phases)))


def linear_runway_m(problem: Problem) -> float:
    """Total runway by the linear stage, which keeps nothing between problems."""
    model = model_of(problem, {})
    found = Search(model, objective(model), solve_linear).run()
    if found.values is None:
        raise SystemExit("the linear stage found no plan")
    reading = reading_of(model, found.values)
    return total_runway_m(Solution(True, reading, np.zeros(0)))


# Started beside a solution with its multipliers IPOPT need not look for the way in again.
WARM = {
    "warm_start_init_point": "yes",
    "warm_start_bound_push": 1e-6,
    "warm_start_mult_bound_push": 1e-6,
    "mu_init": 1e-5,
}

# How each is written, and how many times faster choreo is to be, new and built.
RIVALS: dict[str, tuple[Callable[[float], Transcription], str]] = {
    "a plain grid of 100 intervals": (
        lambda speed: Transcription(speed, INTERVALS, plain=True),
        "over 1",
    ),
    "a careful grid of 100 intervals": (lambda speed: Transcription(speed, INTERVALS), "10, 50"),
    "multiple shooting, three free intervals a ramp": (
        lambda speed: Transcription(speed, 3, free=True),
        "over 1",
    ),
}


def rival_rows() -> list[Row]:
    """The same problem written otherwise: whose runway is longer; new; and with the programme already built."""
    speed = 40 * KMH
    problem, other = (at_the_limit(walker_problem(one)) for one in (speed, speed + 0.5 * KMH))
    solver = Solver(problem)
    near = solver.solve(problem)
    ours_m = total_runway_m(near)
    if abs(linear_runway_m(problem) - ours_m) > 1e-5:
        raise SystemExit("linear and nonlinear stage don't agree")
    linear = least_cpu(lambda: linear_runway_m(other), 20)
    new = least_cpu(lambda: Solver(problem).solve(problem), 9)
    built = least_cpu(lambda: solver.solve(other, near=near), 9)
    rows = [
        Row(
            "the two-mover problem: linear stage; nonlinear stage new, and built",
            f"{1e3 * linear:.1f} ms; {1e3 * new:.1f} ms, {1e3 * built:.1f} ms",
            "1 ms",
        )
    ]
    beside = speed + 0.5 * KMH
    for name, (write, reach) in RIVALS.items():
        rival = write(speed)
        excess_mm = 1e3 * (rival.solve() - ours_m)
        if excess_mm < -1e-2:
            raise SystemExit(f"{name} found a runway shorter by {-excess_mm:.4f} mm")
        off_mm = 1e3 * (rival.solve_beside(beside) - linear_runway_m(other))
        if not -1e-2 < off_mm < excess_mm + 10.0:
            raise SystemExit(f"{name} went elsewhere beside its solution: {off_mm:.3f} mm")
        theirs = least_cpu(lambda write=write: write(speed).solve(), 9)
        # Whichever way is quicker is theirs: anew from the guess, or beside the solution with multipliers.
        theirs_built = min(
            least_cpu(rival.solve, 5), least_cpu(lambda rival=rival: rival.solve_beside(beside), 5)
        )
        rows.append(
            Row(
                f"{name}: new, built; choreo's linear stage against it; its nonlinear stage alone",
                f"{1e3 * theirs:.1f} ms, {1e3 * theirs_built:.1f} ms; {theirs / linear:.1f}, "
                f"{theirs_built / linear:.1f} times faster; {theirs / new:.1f}, "
                f"{theirs_built / built:.1f} times; its runway {excess_mm:.2f} mm longer",
                reach,
            )
        )
    return rows


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="leave the whole-process rows out")
    quick = parser.parse_args().quick
    rows = [] if quick else [*process_rows(), *large_rows()]
    rows += [*three_mover_rows(), clearance_row(), explanation_row(), *build_rows(), variant_row()]
    rows += [
        *sweep_rows(),
        thousand_row(),
        *error_rows(),
        optimum_row(),
        ruckig_row(),
        *rival_rows(),
    ]
    print(f"Python {platform.python_version()}, numpy {np.__version__}, casadi {ca.__version__}\n")
    print("| what | measured | to reach |\n|---|---|---|")
    for row in rows:
        print(f"| {row.what} | {row.measured} | {row.reach} |")


if __name__ == "__main__":
    main()
