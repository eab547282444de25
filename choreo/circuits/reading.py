"""A circuit file -> a checked Circuit, or all its faults."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path as File
from typing import Any

import numpy as np

from choreo.circuits.laying import join_faults
from choreo.circuits.records import VEHICLE, Circuit, Excursion
from choreo.circuits.written import CircuitFileWritten, CircuitWritten, ExcursionWritten
from choreo.geometry import Path
from choreo.geometry.loop import lap_of
from choreo.geometry.sections import sections_of
from choreo.ground import ground_of
from choreo.problem import draw
from choreo.scenario import Scenario
from choreo.scenario.loading import Loading
from choreo.scenario.making.companions import check_kind
from choreo.scenario.making.draft import Draft
from choreo.scenario.making.paths import path_of
from choreo.scenario.text.document import Document, Keys, parse_document, read_text
from choreo.scenario.text.repeats import write_out
from choreo.scenario.written.faults import in_order, validated
from choreo.scenario.written.paths import PathWritten
from choreo.words import ChoreoError, errors_of, remarks_of
from choreo.words.quantities import QuantityError, parse, quoted

BEGINS_WITH = "choreo circuit"
# Keys of a mover that a circuit says by itself.
OWN = ("path", "stand", "start", "programme", "drive", "turns")


def load_circuit(file: File) -> Circuit:
    """Load a circuit file with the site and fleet that it names.

    Raises ChoreoError with every fault found, each with file, line and column.
    """
    document = parse_document(read_text(file), str(file), BEGINS_WITH)
    write_out(document)
    draft = Draft(document)
    check_kind(document, BEGINS_WITH)
    written = validated(document, CircuitFileWritten, draft.findings)
    if written is None or errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    base = _scenario(document, draft, written, file.parent)
    return _circuit(document, draft, written, base)


def _scenario(
    document: Document, draft: Draft, written: CircuitFileWritten, folder: File
) -> Scenario:
    """The vehicle alone on the main path: read as a scenario, so that paths, fleet and limits are checked as there."""
    if not isinstance(written.vehicle, dict):
        draft.fault("scenario.bad-shape", ("vehicle",), where="vehicle", shape="a block of keys")
        raise ChoreoError(in_order(draft.findings))
    for key in OWN:
        if key in written.vehicle:
            draft.fault(
                "scenario.not-together",
                ("vehicle", key),
                where="vehicle",
                first=f"`{key}`",
                second="a circuit, which says it",
            )
    if draft.findings:
        raise ChoreoError(in_order(draft.findings))
    creep = [{"ramp": {"to": "1 km/h"}}, {"stop": {}}]
    mover: dict[str, Any] = {"path": written.circuit.main, "start": {"station": "0 m"}}
    data = {
        "choreo": "1",
        "title": written.title,
        "about": written.about,
        **{key: document.data[key] for key in ("site", "fleet", "paths") if key in document.data},
        "movers": {VEHICLE: {**written.vehicle, **mover, "programme": creep}},
    }
    places = dict(document.places)
    for keys, place in document.places.items():
        if keys[:1] == ("vehicle",):
            places["movers", VEHICLE, *keys[1:]] = place
    main = document.origin(("circuit", "main"))
    places["movers", VEHICLE, "path"] = main
    whole = Document(document.file, data, places, dict(document.key_places), {}, [])
    return _as_usual(Loading(whole, folder).scenario())


def _as_usual(base: Scenario) -> Scenario:
    """Laps are driven at the usual rates of the vehicle: they are limits here."""
    mover = base.movers[VEHICLE]
    limits, usual = mover.limits, mover.usual
    if usual is None:
        return base
    most = math.inf if usual.accelerate_mps2 is None else usual.accelerate_mps2
    brake = math.inf if usual.brake_mps2 is None else usual.brake_mps2
    limits = replace(
        limits,
        accelerate=tuple((v, min(a, most)) for v, a in limits.accelerate),
        brake_mps2=min(limits.brake_mps2, brake),
    )
    return replace(base, movers={VEHICLE: replace(mover, limits=limits, usual=None)})


def _circuit(
    document: Document, draft: Draft, written: CircuitFileWritten, base: Scenario
) -> Circuit:
    paths = draw(base).by_name
    asked = written.circuit
    if lap_of(paths[asked.main]) is None:
        course = base.paths[asked.main].course
        instead = "Write `closed: yes` in it; its end must meet its beginning to 1 cm and 0.1 deg."
        if course is not None:
            instead = f"A course ({course.name}) is driven through once: lay the loop as `pieces`, with `closed: yes`."
        draft.fault(
            "circuit.not-closed", ("circuit", "main"), path=quoted(asked.main), instead=instead
        )
        raise ChoreoError(in_order(draft.findings))
    base = _with_own_paths(draft, written, base, paths[asked.main])
    paths = draw(base).by_name
    excursions = {}
    for name, one in asked.excursions.items():
        made = _excursion(draft, name, one, paths, lap_of(paths[asked.main]) or 0.0)
        if made is not None:
            excursions[name] = made
    _check_surfaces(draft, written, base, paths)
    _check_rules(draft, asked, has_model=written.temperature is not None)
    if errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    circuit = Circuit(
        base,
        ground_of(base),
        asked,
        paths,
        excursions,
        written.surfaces,
        written.temperature,
        document.places,
        (*base.notes, *remarks_of(draft.findings)),
    )
    joins = join_faults(circuit)
    if errors_of(joins):
        raise ChoreoError(in_order(joins))
    notes = tuple(one for one in (*circuit.notes, *joins) if one.code != "scenario.implied-stop")
    return Circuit(**{**vars(circuit), "notes": notes})


def _with_own_paths(
    draft: Draft, written: CircuitFileWritten, base: Scenario, main: Path
) -> Scenario:
    """Lay the pieces of excursions from where they leave the main path; each is a path under the excursion's name."""
    more = {}
    for name, one in written.circuit.excursions.items():
        keys: Keys = ("circuit", "excursions", name)
        if draft.one_of(keys, name, {"path": one.path, "pieces": one.pieces}) is None:
            continue
        if one.pieces is None:
            continue
        if name in base.paths:
            first, second = "a path", "an excursion with pieces"
            draft.fault("scenario.same-name", keys, name=quoted(name), first=first, second=second)
            continue
        pose = main.pose(np.array([one.leaves]))
        path = PathWritten.model_construct(
            start=(float(pose.x_m[0]), float(pose.y_m[0])),
            heading=float(pose.heading_rad[0]),
            pieces=one.pieces,
        )
        made = path_of(draft, keys, path, File("."))
        if made is not None:
            more[name] = made
    if errors_of(draft.findings):
        raise ChoreoError(in_order(draft.findings))
    places = {
        ("paths", keys[2], *keys[3:]): place
        for keys, place in draft.document.places.items()
        if keys[:2] == ("circuit", "excursions") and len(keys) > 2 and keys[2] in more
    }
    return replace(base, paths={**base.paths, **more}, places={**base.places, **places})


def _excursion(
    draft: Draft,
    name: str,
    written: ExcursionWritten,
    paths: Mapping[str, Path],
    lap_m: float,
) -> Excursion | None:
    keys: Keys = ("circuit", "excursions", name)
    called = name if written.path is None else written.path
    path = paths.get(called)
    if path is None:
        draft.unknown((*keys, "path"), "path", called, paths)
        return None
    if not 0.0 <= written.leaves < written.joins <= lap_m:
        draft.fault(
            "circuit.order",
            (*keys, "joins"),
            excursion=quoted(name),
            leaves=f"{written.leaves:g} m",
            joins=f"{written.joins:g} m",
            lap=f"{lap_m:.3f} m",
        )
        return None
    lap = lap_of(path)
    length = path.length_m if lap is None else lap
    stop = None
    if written.stop is not None:
        stop = _stop_m(draft, (*keys, "stop", "at"), written.stop.at, path, length)
    stands = 0.0 if written.stop is None else written.stop.for_
    return Excursion(name, called, written.leaves, written.joins, length, stop, stands)


def _stop_m(draft: Draft, keys: Keys, at: str | None, path: Path, length_m: float) -> float:
    """A station, the middle of a named piece, or the middle of the whole excursion."""
    if at is None:
        return length_m / 2.0
    if at in path.marks:
        return sum(path.marks[at]) / 2.0
    try:
        station = parse(at, "length")
    except QuantityError:
        draft.unknown(keys, "named piece of the excursion's path", at, path.marks)
        return length_m / 2.0
    if not 0.0 < station < length_m:
        draft.fault(
            "scenario.bad-value",
            keys,
            where="stop > at",
            what=f"station {station:g} m is not on its path, which is {length_m:.3f} m long",
            instead="Write a station of the excursion's own path, or the name of a piece.",
        )
    return station


def _check_surfaces(
    draft: Draft, written: CircuitFileWritten, base: Scenario, paths: Mapping[str, Path]
) -> None:
    """What is said of a surface must be of one that some driven path has."""
    excursions = written.circuit.excursions
    driven = {written.circuit.main, *(one.path or name for name, one in excursions.items())}
    known = {
        section.surface
        for name in driven & set(paths)
        for section in sections_of(base.paths[name], paths[name])
        if section.surface is not None
    }
    for name in written.surfaces:
        if name not in known:
            draft.unknown(("surfaces", name), "surface of a path", name, sorted(known))


def _check_rules(draft: Draft, written: CircuitWritten, *, has_model: bool) -> None:
    for name, one in written.excursions.items():
        keys: Keys = ("circuit", "excursions", name)
        choices = {"every": one.every, "after": one.after, "before": one.before}
        chosen = draft.one_of(keys, f"excursion `{quoted(name)}`", choices)
        if chosen is not None and chosen[0] == "before" and not has_model:
            draft.fault(
                "scenario.missing-key", keys, key="temperature", where="the file, for `before`"
            )
        for index, due in enumerate(one.after or ()):
            if due.laps is not None and due.laps >= written.laps:
                draft.fault(
                    "scenario.bad-value",
                    (*keys, "after", index),
                    where=f"{name} > after",
                    what=f"after {due.laps} laps there is no lap left of {written.laps}",
                    instead="Write fewer, or more `laps`.",
                )
