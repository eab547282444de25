"""What each source does to each encounter, to first order: derivatives of the very execution that draws go through.

All sources are moved at once, each in runs of its own: by small steps either way, of two sizes, for the derivative,
and by one standard deviation either way, to see whether a derivative stands for what the source really does. What
wanders has no number to be moved: its runs are drawn.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from choreo.errors.draws import Draws
from choreo.errors.outcomes import run
from choreo.errors.stage import Stage
from choreo.plans.errors_record import FirstOrderTold, Share
from choreo.scenario import ErrorSource
from choreo.words.kinds import ERRORS, MEASURES
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# The steps of a derivative, as shares of a source's standard deviation; and its least (m, m/s, s or a ratio).
STEP = 0.02
LEAST_STEP = 1e-4
# In which runs, of those of one source, it is moved, and how far: in steps, and in standard deviations.
STEPS = np.array([1.0, -1.0, 0.5, -0.5, 0.0, 0.0])
SPREADS = np.array([0.0, 0.0, 0.0, 0.0, 1.0, -1.0])
# Both sides' slopes differ by less than this share of the whole spread where there is no kink ...
KINK = 0.02
# ... and what a source does over its spread is off its derivative by no more than this share.
OFF_LINE = 0.1
# Runs that are drawn for each source that wanders: they tell its spread to 4 %.
WANDERING_RUNS = 300
WANDERING_SEED = 1


@dataclass(frozen=True, eq=False)
class Slopes:
    """One encounter near its mean course, by source, each of shape (sources,).

    nominal: the value by plan, mean: with every source at its mean. derivatives: of the value by each source; of time,
    speeds of both and closing speed in `others`. spreads: of the value by each source alone. smooth: whether the
    derivative stands for it.
    """

    nominal: float
    mean: float
    derivatives: Floats
    spreads: Floats
    smooth: Flags
    others: Mapping[str, Floats]

    @property
    def spread(self) -> float:
        """The value's standard deviation: all sources are independent."""
        return float(np.sqrt(np.nansum(self.spreads**2)))


@dataclass(frozen=True, eq=False)
class FirstOrder:
    """All encounters to first order, by name; means: of all sources, shape (sources,)."""

    sources: tuple[ErrorSource, ...]
    means: Floats
    encounters: Mapping[str, Slopes]


def first_order(stage: Stage, sources: tuple[ErrorSource, ...]) -> FirstOrder:
    """Move every source a little, all in one execution."""
    deviations = np.array([one.spread.standard_deviation for one in sources])
    wanders = np.array([ERRORS[one.kind].over is not None for one in sources], dtype=bool)
    means = np.where(wanders, 0.0, [one.spread.bias for one in sources])
    steps = np.maximum(STEP * deviations, LEAST_STEP)
    perfect = np.array([ERRORS[one.kind].perfect for one in sources])
    rows = [perfect[None, :], means[None, :]]
    for index in range(len(sources)):
        count = WANDERING_RUNS if wanders[index] else len(STEPS)
        moved = np.repeat(means[None, :], count, axis=0)
        if wanders[index]:
            moved[:, index] = deviations[index]
        else:
            moved[:, index] += STEPS * steps[index] + SPREADS * deviations[index]
        rows.append(moved)
    found = run(stage, Draws(sources, np.concatenate(rows), WANDERING_SEED))
    starts = np.cumsum([len(one) for one in rows])[1:-1]
    encounters = {}
    for name, met in found.encounters.items():
        slopes = _slopes(met.value, starts, wanders, steps, deviations)
        times = np.where(met.met, met.time_s, np.nan)
        others = {
            what: _slopes(values, starts, wanders, steps, deviations).derivatives
            for what, values in (
                ("time", times),
                ("speed of the first", met.of_mps),
                ("speed of the second", met.with_mps),
                ("closing speed", met.closing_mps),
            )
        }
        encounters[name] = Slopes(
            slopes.nominal,
            slopes.mean,
            slopes.derivatives,
            slopes.spreads,
            slopes.smooth,
            others,
        )
    return FirstOrder(sources, means, encounters)


def _slopes(
    values: Floats, starts: NDArray[np.intp], wanders: Flags, steps: Floats, deviations: Floats
) -> Slopes:
    """Derivatives and spreads of one outcome; values: of all runs, starts: where those of each source begin."""
    count = len(steps)
    derivatives, spreads = np.zeros(count), np.zeros(count)
    kinks, sampled = np.zeros(count), np.zeros(count)
    middle = values[1]
    for index, start in enumerate(starts):
        if wanders[index]:
            drawn = values[start : start + WANDERING_RUNS]
            drawn = drawn[np.isfinite(drawn)]
            spread = float(np.std(drawn, ddof=1)) if len(drawn) > 1 else np.nan
            spreads[index] = sampled[index] = spread
            derivatives[index] = spread / deviations[index] if deviations[index] > 0.0 else 0.0
            continue
        up, down, less_up, less_down, far_up, far_down = values[start : start + len(STEPS)] - middle
        step = steps[index]
        # Richardson: what is of third order in two steps of different size cancels.
        derivatives[index] = (4.0 * (less_up - less_down) / step - (up - down) / (2.0 * step)) / 3.0
        spreads[index] = abs(derivatives[index]) * deviations[index]
        # Half of what both slopes differ by is of second order, or a kink: then it is the same for both steps.
        bends = abs(less_up + less_down) / (step / 2.0), abs(up + down) / step
        kinks[index] = bends[0] * deviations[index] if bends[0] > 0.75 * bends[1] else 0.0
        sampled[index] = np.sqrt((far_up**2 + far_down**2) / 2.0)
    whole = np.sqrt(np.nansum(np.fmax(spreads, sampled) ** 2))
    smooth = (kinks <= KINK * whole) & (np.abs(sampled - spreads) <= OFF_LINE * whole)
    spreads = np.where(smooth | ~np.isfinite(sampled), spreads, sampled)
    return Slopes(float(values[0]), float(middle), derivatives, spreads, smooth, {})


def told(stage: Stage, found: FirstOrder) -> dict[str, FirstOrderTold]:
    """Give it as plain data, by encounter, the largest share first; encounters that are missed on the mean are not."""
    every = {}
    for name, slopes in found.encounters.items():
        if not np.isfinite(slopes.mean):
            continue
        squares = np.nan_to_num(slopes.spreads) ** 2
        whole = float(squares.sum())
        shares = [
            Share(
                index,
                _number(slopes.derivatives[index]),
                _number(slopes.spreads[index]),
                float(squares[index]) / whole if whole > 0.0 else 0.0,
                bool(slopes.smooth[index]),
            )
            for index in np.argsort(-squares, kind="stable").tolist()
        ]
        every[name] = FirstOrderTold(
            name,
            MEASURES[stage.plan.encounters[name].measure],
            slopes.nominal,
            slopes.mean - slopes.nominal,
            slopes.spread,
            tuple(shares),
            bool(slopes.smooth.all()),
        )
    return every


def _number(value: float) -> float:
    return float(value) if np.isfinite(value) else 0.0
