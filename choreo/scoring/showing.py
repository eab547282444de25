"""A scored run as its page shows it: motions, what is off, the bands with what breaks them, figures."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from choreo.page.run import RunSeen
from choreo.recordings.record import Floats
from choreo.report.content import Content
from choreo.scoring.run import RecordedRun
from choreo.scoring.score import RunScore
from choreo.scoring.signals import planned_speed
from choreo.scoring.verdicts import Judged
from choreo.words.display import how_many, kmh, seconds

# So many samples of each mover are shown at most, and none later than this (s) after the plan has ended.
SHOWN, AFTER_S = 2000, 3.0
KMH = 3.6
# Signals of a mover that have a chart with bands: the chart, and the factor to its unit.
CHARTS = {"speed": ("off", KMH), "lateral deviation": ("beside", 1.0)}


def seen_run(run: RecordedRun, score: RunScore, content: Content) -> RunSeen:
    """Give a run as its page shows it; content: what the terminal says of it."""
    plan = run.stage.plan
    ends = [piece.start_s + piece.duration_s for m in plan.movers.values() for piece in m.pieces]
    ends += [one.time_s for one in plan.encounters.values()]
    until = min(float(run.time_s[-1]), max(ends, default=0.0) + AFTER_S)
    chosen = np.flatnonzero((run.time_s >= 0.0) & (run.time_s <= until))
    shown = chosen[:: max(math.ceil(len(chosen) / SHOWN), 1)]
    names = list(run.stage.scenario.movers)
    off = {name: _off(run, name) for name in run.movers}
    data = {
        "name": score.name,
        "movers": [
            _mover(run, name, off[name], shown) if name in run.movers else None for name in names
        ],
        "bands": [_band(run, one, names, off) for one in score.judged if _charted(one, names, off)],
        "moments": [[round(one.time_s, 4), one.event] for one in score.moments],
    }
    return RunSeen(content, tuple(_figures(score)), data, until)


def _off(run: RecordedRun, name: str) -> dict[str, Floats]:
    """Speed off its plan in m/s and offset from the path in m, shape (n,)."""
    one = run.movers[name]
    speed = one.track.speed_mps - planned_speed(run, name).values
    return {"speed": speed, "lateral deviation": one.beside_m}


def _mover(
    run: RecordedRun, name: str, off: dict[str, Floats], shown: np.ndarray
) -> dict[str, Any]:
    one = run.movers[name]
    way = one.track.heading_rad - run.stage.actors[name].mover.body.points_rad
    return {
        "t": _listed(run.time_s[shown], 3),
        "x": _listed(one.track.x_m[shown], 3),
        "y": _listed(one.track.y_m[shown], 3),
        "h": _listed(way[shown], 4),
        "v": _listed(one.track.speed_mps[shown], 4),
        "off": _listed(KMH * off["speed"][shown], 3),
        "beside": _listed(off["lateral deviation"][shown], 4),
    }


def _listed(values: Floats, digits: int) -> list[float | None]:
    return [round(float(one), digits) + 0.0 if math.isfinite(one) else None for one in values]


def _charted(one: Judged, names: list[str], off: dict[str, dict[str, Floats]]) -> bool:
    known = one.owner in names and one.owner in off and one.signal in CHARTS
    return known and one.from_s is not None and one.until_s is not None


def _band(
    run: RecordedRun, one: Judged, names: list[str], off: dict[str, dict[str, Floats]]
) -> dict[str, Any]:
    """A band in its window, and the stretches in which it is broken."""
    key, factor = CHARTS[one.signal]
    begins, ends = one.from_s or 0.0, one.until_s or 0.0
    values = off[one.owner][one.signal]
    low = -math.inf if one.lower is None else one.lower - 1e-9
    high = math.inf if one.upper is None else one.upper + 1e-9
    out = (run.time_s >= begins) & (run.time_s <= ends) & ((values < low) | (values > high))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], out.astype(np.int8), [0])))).reshape(-1, 2)
    return {
        "key": key,
        "mover": names.index(one.owner),
        "from": round(begins, 4),
        "until": round(ends, 4),
        "low": None if one.lower is None else factor * one.lower,
        "high": None if one.upper is None else factor * one.upper,
        "broken": [
            [round(float(run.time_s[a]), 3), round(float(run.time_s[b - 1]), 3)] for a, b in edges
        ],
    }


def _figures(score: RunScore) -> list[tuple[str, str, str]]:
    """Six figures at most: the ruling, the first encounter, what happened before it."""
    failed = [one for one in score.judged if one.ruling == "invalid"]
    open_ones = [one for one in score.judged if one.ruling == "not decidable"]
    rules = how_many(len(score.judged), "rule")
    more = f"{rules}, {len(failed)} broken, {len(open_ones)} not decidable"
    found: list[tuple[str, str, str]] = [("ruling", score.ruling, more)]
    first = min(score.happened, key=lambda one: one.time_s, default=None)
    touch = None if first is None else first.touch
    if first is not None and touch is not None and touch.time_s is not None:
        side = "left" if touch.left_m >= 0 else "right"
        place = f"{100 * abs(touch.left_m):.1f} cm" if touch.front else f"{touch.from_rear_m:.2f} m"
        where = f"{side} of the middle" if touch.front else "from the rear"
        found.append(("contact", seconds(touch.time_s), f"after go, {first.encounter}"))
        found.append(("impact point", place, where))
        found.append(("impact speed", kmh(touch.of_mps, 1), first.of))
    elif first is not None and touch is not None:
        found.append(("nearest", f"{touch.least_m:.2f} m", f"at {seconds(touch.least_s)}"))
    for one in score.moments:
        if one.left_s is not None and one.event in ("warning", "automatic braking"):
            found.append((one.event, seconds(one.left_s), "time to collision"))
    worst = min(
        (one for one in failed if one.margin is not None),
        key=lambda one: one.at_s or 0.0,
        default=None,
    )
    if worst is not None and worst.at_s is not None:
        found.append(("first broken", seconds(worst.at_s), worst.rule))
    return found[:6]
