"""What may be off as written -> sources of error, in the order of the file: of movers, then of triggers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.errors import ErrorSource, Spread
from choreo.scenario.records.scenario import Mover
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.scenario.written.errors import ErrorsWritten
from choreo.words.kinds import ErrorKind

# One source of a mover: its kind, its keys in the file, its spread and over what it wanders.
Found = tuple[ErrorKind, Keys, Spread, float | None]


def error_sources_of(
    draft: Draft,
    written: w.FileWritten,
    whole: Mapping[str, ErrorsWritten],
    movers: Mapping[str, Mover],
) -> tuple[ErrorSource, ...]:
    """Make all sources of error; a warning for those that a mover itself names and can't have.

    whole: what holds for each mover, its fleet's entry included.
    """
    sources = []
    for name, errors in whole.items():
        for kind, keys, spread, over in _found(errors):
            why = _why_not(movers[name], kind)
            if why is None:
                sources.append(ErrorSource(kind, name, spread, over))
            elif _written(written.movers[name].errors, keys):
                place = ("movers", name, "errors", *keys)
                what = " > ".join(str(key) for key in keys)
                draft.fault("scenario.error-idle", place, "warning", mover=name, what=what, why=why)
    for name, trigger in written.triggers.items():
        if trigger.latency.spread is not None:
            sources.append(ErrorSource("latency", name, trigger.latency.spread))
    return tuple(sources)


def _found(errors: ErrorsWritten) -> Iterator[Found]:
    mark, path = errors.start_mark, errors.path
    speed, aside = errors.speed_wander, None if path is None else path.wander
    plain: tuple[tuple[ErrorKind, Keys, Spread | None], ...] = (
        ("speed held", ("speed held",), errors.speed_held),
        ("start along", ("start mark", "along"), None if mark is None else mark.along),
        ("start beside", ("start mark", "beside"), None if mark is None else mark.beside),
        ("path offset", ("path", "offset"), None if path is None else path.offset),
        ("position", ("position",), errors.position),
        ("achieved acceleration", ("achieved acceleration",), errors.achieved_acceleration),
        ("achieved braking", ("achieved braking",), errors.achieved_braking),
        ("launch", ("launch",), errors.launch),
    )
    for kind, keys, spread in plain:
        if spread is not None:
            yield kind, keys, spread, None
    if speed is not None:
        yield "speed wander", ("speed wander",), Spread("normal", 0.0, speed.size), speed.over
    if aside is not None:
        yield "path wander", ("path", "wander"), Spread("normal", 0.0, aside.size), aside.over


def _written(errors: ErrorsWritten | None, keys: Keys) -> bool:
    """Whether a key path is among what is written here."""
    block: object = errors
    for key in keys:
        block = getattr(block, str(key).replace(" ", "_"), None)
    return block is not None


def _why_not(mover: Mover, kind: ErrorKind) -> str | None:
    """Why a source can't be of this mover; None where it can."""
    if kind in ("start along", "start beside"):
        return None
    if not mover.programme:
        return "it only stands"
    if kind == "launch" and mover.programme[0].for_trigger is not None:
        return "a trigger launches it: write the trigger's latency with its spread"
    return None
