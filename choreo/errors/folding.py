"""Many runs folded chunk by chunk into what is told of them, in memory that doesn't grow with their number."""

from __future__ import annotations

from dataclasses import field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.errors.draws import Draws
from choreo.errors.first_order import FirstOrder
from choreo.errors.meetings import Met
from choreo.errors.outcomes import VALID, Outcomes, run, within
from choreo.errors.stage import Stage
from choreo.errors.statistics import chance_of, shares_of_spread
from choreo.plans.errors_record import Cause, Chance, Distribution, EncounterTold
from choreo.words.kinds import ERRORS, MEASURES, Unit
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

# Bins of what is counted, over the first chunk's range widened by this share of it to both sides.
BINS = 8192
WIDER = 0.75
# Bins of what is told, and the quantiles.
TOLD_BINS = 48
SHARES = (0.025, 0.05, 0.25, 0.5, 0.75, 0.95, 0.975)
# A quantile's error is a bin at most; the ends of what is told leave out this share of runs on both sides.
LEFT_OUT = 5e-4
# First order and draws disagree: by more standard errors than this, and by more than these shares of the spread.
STANDARD_ERRORS = 4.0
OFF_MEAN = 0.1
OFF_SPREAD = 0.05
# So many runs are run again to see what a failure is due to.
HEAD = 512


@dataclass(eq=False)
class Moments:
    """Count, mean and sum of squared deviations, of chunks one after the other (Chan, Golub and LeVeque 1979)."""

    count: int = 0
    mean: float = 0.0
    squares: float = 0.0

    def add(self, values: Floats) -> None:
        """Take in values, shape (n,)."""
        count = len(values)
        if not count:
            return
        mean = float(values.mean())
        squares = float(((values - mean) ** 2).sum())
        whole = self.count + count
        off = mean - self.mean
        self.squares += squares + off**2 * self.count * count / whole
        self.mean += off * count / whole
        self.count = whole

    @property
    def spread(self) -> float:
        """The standard deviation; 0 of a single value."""
        return float(np.sqrt(self.squares / (self.count - 1))) if self.count > 1 else 0.0


@dataclass(eq=False)
class Tally:
    """One encounter over the runs so far."""

    met: int = 0
    within: int = 0
    values: Moments = field(default_factory=Moments)
    times: Moments = field(default_factory=Moments)
    closings: Moments = field(default_factory=Moments)
    least: float = np.inf
    most: float = -np.inf
    low: float = 0.0
    width: float = 0.0
    counts: Counts = field(default_factory=lambda: np.zeros(BINS, dtype=np.int64))

    def add(self, met: Met, inside: NDArray[np.bool_]) -> None:
        """Take in a chunk. inside: in which runs it is within its tolerance, shape (runs,)."""
        happens = met.met & np.isfinite(met.value)
        self.met += int(happens.sum())
        self.within += int((inside & happens).sum())
        values = met.value[happens]
        if not len(values):
            return
        self.values.add(values)
        self.times.add(met.time_s[happens])
        self.closings.add(met.closing_mps[happens])
        self.least = min(self.least, float(values.min()))
        self.most = max(self.most, float(values.max()))
        if self.width == 0.0:
            # Something of a range even where nothing varies.
            reach = max(self.most - self.least, 1e-9 * max(1.0, abs(self.most)))
            self.low = self.least - WIDER * reach
            self.width = (1.0 + 2.0 * WIDER) * reach / BINS
        bins = np.clip((values - self.low) / self.width, 0, BINS - 1).astype(np.int64)
        self.counts += np.bincount(bins, minlength=BINS)

    def distribution(self, unit: Unit, band: tuple[float, float]) -> Distribution | None:
        """Give what is told; None where it never happened. band: the ends of what is tolerated, edges of its bins."""
        if not self.values.count:
            return None
        cumulated = np.concatenate(([0], np.cumsum(self.counts))) / self.values.count
        edges = self.low + self.width * np.arange(BINS + 1)
        edges = np.clip(edges, self.least, self.most)

        def at(share: float) -> float:
            return float(np.interp(share, cumulated, edges))

        told = _edges(at(LEFT_OUT), at(1.0 - LEFT_OUT), *band)
        below = np.rint(np.interp(told, edges, cumulated * self.values.count)).astype(np.int64)
        below[0], below[-1] = 0, self.values.count
        return Distribution(
            unit,
            self.values.mean,
            self.values.spread,
            self.least,
            self.most,
            {f"{share:g}": at(share) for share in SHARES},
            tuple(told.tolist()),
            tuple(np.diff(below).tolist()),
        )


def _edges(low: float, high: float, least: float, most: float) -> Floats:
    """About TOLD_BINS bins from low to high of which least and most are edges, if they are any near; shape (n + 1,)."""
    step, wide = (high - low) / TOLD_BINS, most - least
    if not 0.0 < step < TOLD_BINS * wide:
        return np.linspace(low, high, TOLD_BINS + 1)
    # A power of two, so that bins can be put together and the band's ends stay edges.
    step = wide / 2.0 ** max(1, round(np.log2(wide / step)))
    first, last = np.floor((low - least) / step), np.ceil((high - least) / step)
    return np.asarray(least + step * np.arange(first, max(last, first + 1) + 1))


@dataclass(eq=False)
class Fold:
    """All that is told of many runs. slopes: the same to first order, which says what a failure is due to.

    helps: by failure, the share of such runs that each source alone takes away when it is perfect.
    """

    stage: Stage
    slopes: FirstOrder
    runs: int = 0
    valid: int = 0
    tallies: dict[str, Tally] = field(default_factory=dict)
    causes: dict[int, Counts] = field(default_factory=dict)
    helps: dict[int, Floats] = field(default_factory=dict)
    first: tuple[Draws, Outcomes] | None = None

    @cached_property
    def perfect(self) -> Floats:
        """What each source would be if nothing were off, (sources,)."""
        return np.array([ERRORS[one.kind].perfect for one in self.slopes.sources])

    def add(self, draws: Draws, found: Outcomes) -> None:
        """Take in a chunk."""
        if self.first is None:
            self.first = draws, found
        self.runs += draws.runs
        self.valid += int(found.valid.sum())
        for name, met in found.encounters.items():
            tally = self.tallies.setdefault(name, Tally())
            tally.add(met, within(self.stage.plan.encounters[name], met))
        for code in np.unique(found.failed[found.failed != VALID]).tolist():
            failed = found.failed == code
            largest = np.argmax(self._pulls(code, draws, failed), axis=1)
            counts = np.bincount(largest, minlength=len(draws.sources))
            self.causes[code] = (
                self.causes.get(code, np.zeros(len(counts), dtype=np.int64)) + counts
            )

    def _pulls(self, code: int, draws: Draws, failed: NDArray[np.bool_]) -> Floats:
        """How far each source pulled from the plan in the runs that failed in one way, (failed runs, sources).

        In what it does to the encounter, where it is about one; else in its own usual size, weighed by the share of
        such failures that there would not be without it.
        """
        sources = self.slopes.sources
        if not sources:
            return np.zeros((int(failed.sum()), 1))
        off = draws.values - self.perfect
        means = self.slopes.means - self.perfect
        usual = np.hypot([one.spread.standard_deviation for one in sources], means)
        pulls = np.abs(off[failed]) / np.maximum(usual, 1e-300)
        name = self.stage.encounter_of(code)
        if name is not None:
            slopes = self.slopes.encounters[name]
            moved = np.hypot(
                np.nan_to_num(slopes.spreads), np.nan_to_num(slopes.derivatives) * means
            )
            return pulls * moved if moved.any() else pulls
        if code not in self.helps and failed[:HEAD].any():
            self.helps[code] = self._helps(code, draws, failed[:HEAD])
        helps = self.helps.get(code)
        return pulls if helps is None or not helps.any() else pulls * helps

    def _helps(self, code: int, draws: Draws, failed: NDArray[np.bool_]) -> Floats:
        """The share of failures of one kind that each source alone takes away when it is perfect, (sources,).

        failed: of the first runs. 0 where the failure can't be due to it.
        """
        due = self.stage.due_to(code)
        shares = np.zeros(len(draws.sources))
        for index, one in enumerate(draws.sources):
            may = due is None or (one.owner == due[0] and one.kind in due[1])
            if may:
                values = draws.values[: len(failed)].copy()
                values[:, index] = self.perfect[index]
                again = run(self.stage, replace(draws, values=values)).failed
                shares[index] = np.mean(again[failed] != code)
        return shares

    def chance(self) -> Chance:
        """Give how often a run is valid."""
        found = chance_of(self.valid, self.runs)
        return Chance(self.valid, self.runs, found.low, found.high)

    def told_causes(self) -> tuple[Cause, ...]:
        """Give what failed first, the most frequent first."""
        conditions = self.stage.conditions
        found = [
            Cause(
                conditions[code],
                int(counts.sum()),
                {
                    i: int(counts[i])
                    for i in np.argsort(-counts, kind="stable").tolist()
                    if counts[i]
                }
                if self.slopes.sources
                else {},
            )
            for code, counts in sorted(self.causes.items())
        ]
        return tuple(sorted(found, key=lambda one: -one.runs))

    def encounters(self) -> dict[str, EncounterTold]:
        """Give every encounter over all runs."""
        return {name: self._encounter(name, tally) for name, tally in self.tallies.items()}

    def _encounter(self, name: str, tally: Tally) -> EncounterTold:
        planned = self.stage.plan.encounters[name]
        disagree = self._disagree(name, tally)
        return EncounterTold(
            name,
            planned.kind,
            planned.measure,
            planned.of,
            planned.with_,
            planned.wanted,
            planned.tolerance,
            tally.met,
            tally.within,
            tally.distribution(
                MEASURES[planned.measure],
                (planned.wanted[0] - planned.tolerance, planned.wanted[1] + planned.tolerance),
            ),
            tally.times.mean,
            tally.times.spread,
            tally.closings.mean,
            tally.closings.spread,
            disagree,
            self._shares(name) if disagree else (),
        )

    def _shares(self, name: str) -> tuple[float, ...]:
        """What each source explains alone of an encounter's variance in the first chunk of runs."""
        if self.first is None:
            return ()
        draws, found = self.first
        values = found.encounters[name].value
        met = np.isfinite(values)
        return tuple(shares_of_spread(draws.values[met], values[met]).tolist())

    def _disagree(self, name: str, tally: Tally) -> bool:
        """Whether draws are off the first order by more than both can be: the plan isn't smooth there."""
        slopes, count = self.slopes.encounters[name], tally.values.count
        if count < 2 or not np.isfinite(slopes.mean):
            return count < self.runs
        spread = max(tally.values.spread, slopes.spread)
        off_mean = abs(tally.values.mean - slopes.mean)
        off_spread = abs(tally.values.spread - slopes.spread)
        error = spread / np.sqrt(count)
        return bool(
            off_mean > max(STANDARD_ERRORS * error, OFF_MEAN * spread)
            or off_spread > max(STANDARD_ERRORS * error, OFF_SPREAD * spread)
        )
