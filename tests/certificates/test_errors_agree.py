"""Every run with errors is what the independent simulation makes of scripts with the same numbers."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from choreo.case import answer, case_at
from choreo.case.answers import Answer
from choreo.errors.drawing import draw
from choreo.errors.draws import Draws
from choreo.errors.first_order import first_order
from choreo.errors.outcomes import Outcomes, run
from choreo.errors.sources import sources_of
from choreo.errors.stage import Stage, stage_of
from choreo.geometry import Path, PosedInArrays, Poses
from choreo.geometry.poses import Stretch
from choreo.scenario import ErrorSource, Scenario, Spread, load
from choreo.verification.execution import Settings, execute, settings_of
from choreo.verification.moments import Moments, Scene
from choreo.verification.record import Measured
from choreo.verification.script import Script, scripts_of
from choreo.verification.separation import Figure
from choreo.words.kinds import ErrorKind
from tests.places import ROOT

# A phase that lasts until an encounter is followed so long beyond its planned end: it happens before.
LONGER_S = 4.0
RUNS = 3
# What may be off, in numbers that move things by decimetres; invented.
LARGE: dict[ErrorKind, Spread] = {
    "speed held": Spread("normal", 0.0, 0.15),
    "start along": Spread("normal", 0.0, 0.2),
    "start beside": Spread("uniform", 0.0, 0.1),
    "path offset": Spread("normal", 0.0, 0.1),
    "position": Spread("normal", 0.0, 0.2),
    "achieved acceleration": Spread("normal", 0.97, 0.04),
    "achieved braking": Spread("uniform", 1.0, 0.05),
    "launch": Spread("normal", 0.05, 0.02),
    "latency": Spread("normal", 0.01, 0.02, least=-0.06),
}

Drawn = Mapping[tuple[str, str], float]


class Aside(PosedInArrays):
    """A path whose follower is so far left of it."""

    def __init__(self, path: Path, left_m: float) -> None:
        self.path, self.left_m = path, left_m
        self.length_m, self.marks = path.length_m, path.marks

    def pose(self, s_m: NDArray[np.float64]) -> Poses:
        at = self.path.pose(s_m)
        x = at.x_m - self.left_m * np.sin(at.heading_rad)
        y = at.y_m + self.left_m * np.cos(at.heading_rad)
        return Poses(x, y, at.heading_rad, at.curvature_per_m)

    def stretches(self) -> tuple[Stretch, ...]:
        return self.path.stretches()

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        return self.path.nearest(x_m, y_m, near_m)


def with_large_errors(scenario: Scenario) -> Scenario:
    """The scenario with all that may be off of whatever moves or watches."""
    sources = [
        ErrorSource(kind, owner, spread)
        for kind, spread in LARGE.items()
        for owner in (scenario.triggers if kind == "latency" else scenario.movers)
    ]
    return replace(scenario, errors=tuple(sources))


def perturbed(script: Script, path: Path, drawn: Drawn) -> Script:
    """A mover's script with its drawn numbers."""

    def off(kind: ErrorKind, perfect: float = 0.0) -> float:
        return drawn.get((kind, script.name), perfect)

    held = off("speed held")
    station = script.start_m + off("start along")
    planned = script.start_mps
    speed = script.start_mps + (held if script.start_mps > 0 else 0.0)
    start_mps, phases = speed, []
    for phase in script.phases:
        d, a, j = (
            np.array(one) for one in (phase.durations_s, phase.accels_mps2, phase.jerks_mps3)
        )
        change = float(np.sum(a * d + j * d**2 / 2))
        planned += change
        until = phase.phase.until
        if abs(change) > 1e-9:
            wanted = planned + held if planned > 1e-6 else 0.0
            rate = off("achieved acceleration" if change > 0 else "achieved braking", 1.0)
            longer = (wanted - speed) / (change * rate)
            d, a, j = d * longer, a * rate, j * rate / longer
        elif until is not None and until.kind == "encounter":
            d = d + LONGER_S
        elif until is not None and until.kind == "mark end":
            d = np.array([(path.marks[until.name or ""][1] - station - off("position")) / speed])
        for lasting, accel, jerk in zip(d, a, j, strict=True):
            station += speed * lasting + accel * lasting**2 / 2 + jerk * lasting**3 / 6
            speed += accel * lasting + jerk * lasting**2 / 2
        phases.append(
            replace(phase, durations_s=tuple(d), accels_mps2=tuple(a), jerks_mps3=tuple(j))
        )
    launch_s = script.launch_s + (off("launch") if script.launch_trigger is None else 0.0)
    return replace(
        script,
        start_m=script.start_m + off("start along"),
        start_mps=start_mps,
        launch_s=launch_s,
        phases=tuple(phases),
    )


def simulated(found: Answer, drawn: Drawn) -> dict[str, Measured | None]:
    """One run by the verification's own means."""
    scenario, paths, plan = found.case.scenario, found.case.paths, found.plan
    scripts = {
        name: perturbed(script, paths[name], drawn)
        for name, script in scripts_of(scenario, plan.movers).items()
    }
    settings, triggers, periods = {}, {}, 0.5
    for name, (setting, target) in settings_of(scenario, plan).items():
        trigger = scenario.triggers[name]
        measured = drawn.get(("position", trigger.watch), 0.0)
        # Whoever believes to be farther on reaches a station early, and has less left to a target.
        settings[name] = (
            Settings(setting - measured, target)
            if trigger.condition == "station"
            else Settings(setting, None if target is None else target - measured)
        )
        late = trigger.latency_s + drawn.get(("latency", name), 0.0)
        triggers[name] = replace(trigger, latency_s=late)
        periods += drawn.get(("sampling", name), 0.0) * trigger.sampling_hz
    other = replace(scenario, triggers=triggers)
    performed = execute(other, paths, scripts, settings, horizon_s=120.0, delay_periods=periods)
    aside: dict[str, Path] = {}
    for name in scenario.movers:
        left = drawn.get(("path offset", name), 0.0) + drawn.get(("start beside", name), 0.0)
        aside[name] = Aside(paths[name], left)
    figures = {
        name: Figure(aside[name], np.array(mover.body.corners_m))
        for name, mover in scenario.movers.items()
    }
    moments = Moments(Scene(other, aside, figures), performed)
    return {name: moments.encounter(name) for name in scenario.encounters}


def staged(file: str, **changes: str) -> tuple[Answer, Stage, Draws]:
    """A bundled scenario with large errors, planned, and drawn."""
    scenario = with_large_errors(load(ROOT / "scenarios" / file))
    if changes:
        triggers = {
            name: replace(one, **changes)  # type: ignore[arg-type]
            for name, one in scenario.triggers.items()
        }
        scenario = replace(scenario, triggers=triggers)
    found = answer(case_at(scenario, None))
    assert found.feasible
    stage = stage_of(found.case.scenario, found.case.paths, found.plan)
    return found, stage, draw(sources_of(found.case.scenario, only_given=True), RUNS, seed=3)


def of_run(draws: Draws, number: int) -> Drawn:
    """What was drawn in one run."""
    keys = [(one.kind, one.owner) for one in draws.sources]
    return dict(zip(keys, draws.values[number].tolist(), strict=True))


@pytest.mark.parametrize(
    ("file", "changes"),
    [
        ("walker-nearside.yaml", {}),
        ("walker-nearside.yaml", {"condition": "station"}),
        ("walker-nearside.yaml", {"condition": "distance"}),
        ("braking-lead-bumper-gap.yaml", {}),
        ("pass-behind-cyclist.yaml", {}),
        ("junction-crossing.yaml", {}),
    ],
)
def test_run_with_errors_is_what_the_simulation_makes_of_it(
    file: str, changes: dict[str, str]
) -> None:
    found, stage, draws = staged(file, **changes)
    outcomes: Outcomes = run(stage, draws)
    worst = {"value": 0.0, "time": 0.0, "closing": 0.0}
    for number in range(RUNS):
        others = simulated(found, of_run(draws, number))
        assert others
        for name, other in others.items():
            ours = outcomes.encounters[name]
            assert other is not None
            worst["value"] = max(worst["value"], abs(ours.value[number] - other.value))
            worst["time"] = max(worst["time"], abs(ours.time_s[number] - other.time_s))
            worst["closing"] = max(
                worst["closing"],
                stage.plan.encounters[name].touches
                * abs(ours.closing_mps[number] - other.closing_mps),
            )
    assert worst["value"] < 1e-6
    assert worst["time"] < 1e-8
    assert worst["closing"] < 1e-4


def test_first_order_is_that_of_the_simulation() -> None:
    """Differences of four runs of the simulation, which find the contact to a tenth of a nanosecond, 1e-6 relative."""
    found, stage, _ = staged("walker-nearside.yaml", condition="station")
    slopes = first_order(stage, perfect_sources(stage)).encounters["contact"]
    compared, sources = 0, perfect_sources(stage)
    assert sources
    for index, source in enumerate(sources):
        key, step = (source.kind, source.owner), 1e-3
        middle = 1.0 if source.kind.startswith("achieved") else 0.0

        def value(
            by: float, key: tuple[str, str] = key, middle: float = middle, step: float = step
        ) -> float:
            measured = simulated(found, {key: middle + by * step})["contact"]
            assert measured is not None
            return measured.value

        near, far = value(1.0) - value(-1.0), value(2.0) - value(-2.0)
        slope = (8.0 * near - far) / (12.0 * step)
        assert slopes.derivatives[index] == pytest.approx(slope, rel=1e-6, abs=1e-6)
        compared += abs(slope) > 1e-3
    assert compared >= 6


def perfect_sources(stage: Stage) -> tuple[ErrorSource, ...]:
    """All large errors, round the plan itself: the simulation looks there too."""
    sources = sources_of(stage.scenario, only_given=True)
    return tuple(
        replace(one, spread=Spread("normal", 1.0 if "achieved" in one.kind else 0.0, 0.05))
        for one in sources
        if one.kind != "achieved braking"
    )
