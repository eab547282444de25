"""Random parts of scenarios: cars, walkers, their limits, and ways across a lane."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.harness.records import INF, Mover, Path, Phase

Rng = np.random.Generator


def draw(rng: Rng, low: float, high: float, digits: int = 3) -> float:
    return round(float(rng.uniform(low, high)), digits)


def any_jerk(rng: Rng, low: float, high: float) -> float:
    return INF if rng.random() < 0.3 else draw(rng, low, high)


def any_table(rng: Rng) -> tuple[tuple[float, float], ...]:
    speeds = sorted({round(float(one), 2) for one in rng.uniform(2, 40, int(rng.integers(1, 4)))})
    accels = sorted((draw(rng, 0.5, 5) for _ in range(len(speeds) + 1)), reverse=True)
    return tuple(zip((0.0, *speeds), accels, strict=True))


def any_car(
    rng: Rng,
    name: str,
    path: Path,
    path_name: str,
    phases: tuple[Phase, ...],
    *,
    table: bool = False,
) -> Mover:
    length = draw(rng, 3.5, 5.5)
    accelerate = any_table(rng) if table else ((0.0, draw(rng, 1, 5)),)
    return Mover(
        name=name,
        kind="subject" if name == "subject" else "vehicle",
        path=path,
        path_name=path_name,
        length_m=length,
        width_m=draw(rng, 1.5, 2.1),
        front_m=round(length * float(rng.uniform(0.5, 0.8)), 3),
        table=accelerate,
        brake_mps2=draw(rng, 3, 9),
        jerk_mps3=any_jerk(rng, 1.5, 20),
        phases=phases,
    )


def any_walker(rng: Rng, name: str, path: Path, phases: tuple[Phase, ...]) -> Mover:
    length = draw(rng, 0.3, 1.0)
    return Mover(
        name=name,
        kind="pedestrian",
        path=path,
        path_name=f"{name}-way",
        length_m=length,
        width_m=draw(rng, 0.3, 0.8),
        front_m=length / 2,
        table=((0.0, draw(rng, 0.4, 4)),),
        brake_mps2=draw(rng, 0.5, 5),
        jerk_mps3=any_jerk(rng, 2, 40),
        phases=phases,
        start=(0.0, 0.0),
    )


def stop(rng: Rng, brake: float) -> Phase:
    if rng.random() < 0.4:
        return Phase("stop")
    return Phase("stop", rate_mps2=round(brake * float(rng.uniform(0.4, 1.0)), 3))


def with_stop(rng: Rng, mover: Mover) -> Mover:
    return replace(mover, phases=(*mover.phases, stop(rng, mover.brake_mps2)))


def crossing_path(lane: Path, cross: float, aside: float, left: bool, length: float) -> Path:
    x, y, heading = lane.point(cross, aside if left else -aside)
    return Path(x, y, heading + (-90.0 if left else 90.0), length)


def prefer(rng: Rng) -> str:
    return str(rng.choice(["shortest runway"] * 4 + ["gentlest ramps", "quickest run"]))
