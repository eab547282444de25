"""How far movers may be off as written -> records, by mover."""

from __future__ import annotations

from choreo.scenario.making.draft import Draft
from choreo.scenario.making.moments import event_of
from choreo.scenario.records.tolerances import Tolerances
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w


def tolerances_of(draft: Draft, written: w.FileWritten) -> dict[str, Tolerances]:
    """Make the tolerances of all movers that have any; faults where nothing could ever be off by them."""
    made = {}
    for name, mover in written.movers.items():
        one, keys = mover.tolerances, ("movers", name, "tolerances")
        if one is None:
            continue
        if not mover.programme and (one.speed or one.limits is not None or one.since is not None):
            _refuse(draft, keys, f"{name} only stands", "Of one that stands write `beside` alone")
        elif one.limits is not None and not 0.0 <= one.limits <= 1.0:
            words = "by how much of them limits may be passed, like `5 %`"
            _refuse(draft, (*keys, "limits"), "that is no share of a limit", f"Write {words}")
        elif one.speed is None and one.beside is None and one.limits is None:
            words = "`speed`, `beside` or `limits` is missing"
            _refuse(draft, keys, words, "Write `tolerances: {speed: 0.5 km/h}`")
        elif (one.speed or one.beside) and mover.programme and not _counts(written, name):
            draft.fault("scenario.tolerance-idle", keys, "warning", mover=name)
        since = event_of(draft, (*keys, "from"), one.since)
        made[name] = Tolerances(one.speed, one.beside, one.limits, since)
    return made


def _counts(written: w.FileWritten, name: str) -> bool:
    """Whether speed and path of a mover ever count: from an event on, where it settles, or when it meets somebody."""
    mover = written.movers[name]
    one = mover.tolerances
    since = (one is not None and one.since is not None) or written.rules is not None
    settles = any(phase.hold is not None and phase.hold.settle for phase in mover.programme)
    meets = any(name in (met.of, met.with_) for met in written.encounters.values())
    return since or settles or meets


def _refuse(draft: Draft, keys: Keys, wrong: str, instead: str) -> None:
    where = " > ".join(str(key) for key in keys)
    draft.fault("scenario.bad-value", keys, where=where, what=wrong, instead=f"{instead}.")
