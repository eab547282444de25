"""The `day:` block read: what the track and the crew allow, in SI, and its faults."""

from __future__ import annotations

import math
from collections.abc import Collection

from choreo.campaigns.day.hours import Hours
from choreo.campaigns.day.records import Rules, Upkeep
from choreo.campaigns.day.written import DayWritten, UpkeepWritten
from choreo.scenario.making.draft import Draft
from choreo.scenario.text.document import Keys
from choreo.words.records import dataclass

# Common practice, no source; the spacing is that of EN-FC v1.1.
RETURN_MPS, TURN_S = 30 / 3.6, 40.0


@dataclass(frozen=True)
class DaySpec:
    """One day of the track, and how many there are.

    return_mps, turn_s: the drive back; valid: the chance that a run counts, said by the block or by the errors of the
    scenarios (by_errors); first: runs or variants that go first; spacing_by: the clause of the time between runs
    where that is a rule set's.
    """

    rules: Rules
    days: int = 1
    return_mps: float = RETURN_MPS
    turn_s: float = TURN_S
    valid: float = 1.0
    first: tuple[str, ...] = ()
    by_errors: bool = False
    spacing_by: str = ""


def spec_of(written: DayWritten) -> DaySpec:
    """Make the record of a block without faults."""
    back = written.return_
    rules = Rules(
        Hours(written.from_, written.to, tuple(sorted(written.pauses))),
        written.between_runs.lo,
        written.between_runs.hi if math.isfinite(written.between_runs.hi) else None,
        written.restage,
        {name: _upkeep(one) for name, one in written.upkeep.items()},
    )
    return DaySpec(
        rules,
        written.days,
        RETURN_MPS if back is None else back.speed,
        TURN_S if back is None else back.turn,
        1.0 if written.valid is None else written.valid,
        written.first,
        by_errors=written.valid is None,
    )


DEFAULT = spec_of(DayWritten.model_validate({}))


def check_day(
    draft: Draft,
    written: DayWritten,
    movers: Collection[str] | None,
    runs: Collection[str] | None,
) -> None:
    """Add the faults that only the whole block shows.

    movers: of all scenarios of the campaign; runs: names of its runs and of their variants. None where these aren't
    known, since they have faults of their own.
    """
    check = _Checks(draft)
    check.hours(written)
    if written.valid is not None and not 0.0 < written.valid <= 1.0:
        check.wrong(("valid",), "a chance is more than 0 % and at most 100 %", "Write `85 %`, say.")
    for name, one in written.upkeep.items():
        if movers is not None and name not in movers:
            draft.unknown(("day", name), "mover", name, sorted(set(movers)))
        check.upkeep(name, one)
    known = None if runs is None else set(runs)
    for index, name in enumerate(written.first):
        if known is not None and name not in known:
            draft.unknown(("day", "first", index), "run or variant", name, runs or ())


@dataclass(frozen=True)
class _Checks:
    draft: Draft

    def wrong(self, keys: Keys, what: str, instead: str) -> None:
        where = " > ".join(
            f"no. {key + 1}" if isinstance(key, int) else key for key in ("day", *keys)
        )
        self.draft.fault(
            "scenario.bad-value", ("day", *keys), where=where, what=what, instead=instead
        )

    def hours(self, written: DayWritten) -> None:
        if written.from_ >= written.to:
            self.wrong(("to",), "the day ends before it begins", "Write a later `to`.")
            return
        latest = written.from_
        for index, (start, end) in sorted(enumerate(written.pauses), key=lambda one: one[1]):
            if start < latest or end > written.to:
                what = "the pause is not within the day, or in another pause"
                self.wrong(("pauses", index), what, "Let it begin later, or end sooner.")
            latest = end
        if sum(end - start for start, end in written.pauses) >= written.to - written.from_:
            self.wrong(("pauses",), "they leave no time of the day", "Write shorter ones.")

    def upkeep(self, name: str, one: UpkeepWritten) -> None:
        """What needs time says how long; a time is for something."""
        pairs = (
            ("swap", one.swap, one.battery is not None or one.strokes is not None, "battery"),
            ("for", one.for_, one.cool_after is not None, "cool after"),
            ("inspection", one.inspection, one.inspect_after is not None, "inspect after"),
        )
        for key, time_s, asked, what in pairs:
            if asked and time_s is None:
                self.wrong((name,), f"`{key}` is missing", f"Write how long: `{key}: 5 min`.")
            if time_s is not None and not asked:
                self.wrong(
                    (name, key), f"`{key}` is without `{what}`", f"Write `{what}` too, or neither."
                )


def _upkeep(one: UpkeepWritten) -> Upkeep:
    return Upkeep(
        one.battery,
        one.strokes,
        one.swap or 0.0,
        one.cool_after,
        one.for_ or 0.0,
        one.inspect_after,
        one.inspection or 0.0,
    )
