"""Which facts of a planned circuit are told, in which words; the same as a document."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from typing import Any

from choreo.circuits.exposure import DAY_S, HOUR_S
from choreo.circuits.planning import PlannedCircuit
from choreo.circuits.records import VEHICLE, Driven, Exposure
from choreo.circuits.roads import displacement_m, velocity_mps
from choreo.plans.document import plain_data, to_document
from choreo.plans.message import messages_of
from choreo.report import Content
from choreo.report.sections import Notes, Section, Table
from choreo.words import Finding
from choreo.words.caution import CAUTION_LINE
from choreo.words.display import KMH_PER_MPS, how_many, plain

CIRCUIT_FORMAT = "choreo circuit plan 1"
# Rows of the sequence that are shown without --all.
SHOWN = 30
# Less way than this (m) on no named surface is rounding.
LEAST_M = 0.05
VALUES = {
    "action A(8)": "0.5 m/s2",
    "limit A(8)": "1.15 m/s2",
    "action VDV": "9.1 m/s^1.75",
    "limit VDV": "21 m/s^1.75",
}


def clock(time_s: float) -> str:
    """'08:03:12', or with its day from the second on."""
    whole = round(time_s)
    day, rest = divmod(whole, int(DAY_S))
    text = f"{rest // 3600:02d}:{rest // 60 % 60:02d}:{rest % 60:02d}"
    return text if day == 0 else f"day {day + 1}, {text}"


def lasting(time_s: float) -> str:
    """'1 h 15 min 06 s', '94.3 s'."""
    if time_s < 600.0:
        return f"{plain(time_s, 1)} s"
    whole = round(time_s)
    hours = f"{whole // 3600} h " if whole >= 3600 else ""
    return f"{hours}{whole // 60 % 60:02d} min {whole % 60:02d} s"


def content_of_circuit(plan: PlannedCircuit, *, full: bool = False) -> Content:
    """Choose what to tell; full: the whole sequence."""
    sections: list[Section] = []
    if plan.failures:
        sections.append(Notes("failed checks", _with_advice(plan.failures), "failed checks"))
    sections += [_laps(plan), _sequence(plan, full=full), *_surfaces(plan), *_roads(plan)]
    sections += _passes(plan)
    if plan.exposure is not None:
        sections += _exposure(plan, plan.exposure)
    sections += _heat(plan)
    sections.append(_stops(plan))
    if plan.notes:
        sections.append(Notes("warnings", _with_advice(plan.notes), "warnings"))
    sections.append(Notes("caution", (CAUTION_LINE,), "caution"))
    headline = "FEASIBLE" if plan.well else "NOT TO BE DRIVEN AS IT IS"
    title = plan.circuit.base.title
    return Content(
        "feasible" if plan.well else "infeasible", headline, title, _summary(plan), tuple(sections)
    )


def _with_advice(found: Iterable[Finding]) -> tuple[str, ...]:
    """What was found, each once, and what to do about it."""
    return tuple(dict.fromkeys(f"{one.text}. {one.advice}".strip() for one in found))


def _summary(plan: PlannedCircuit) -> str:
    totals, start = plan.totals, plan.circuit.written.start
    kinds, laps = len(plan.laps), plan.circuit.written.laps
    text = (
        f"{how_many(laps, 'lap')} of {how_many(kinds, 'kind')}, {plain(totals.way_m / 1000.0, 3)} km in "
        f"{lasting(totals.lasts_s)}, from {clock(start)} to {clock(start + totals.lasts_s)}; "
        f"{lasting(totals.standing_s)} of it standing. Every kind of lap was simulated independently, and so was every "
        f"seam at the line, passed at {plain(plan.line_mps * KMH_PER_MPS, 2)} km/h."
    )
    if totals.lasts_s > DAY_S:
        text += f" That is {plain(a_day(totals.way_m, totals.lasts_s) / 1000.0, 1)} km a day."
    if plan.reverse_s is not None:
        text += f" The other way round a plain lap takes {lasting(plan.reverse_s)}."
    return text


def _laps(plan: PlannedCircuit) -> Table:
    counts: dict[str, int] = {}
    for one in plan.driven:
        counts[one.lap.name] = counts.get(one.lap.name, 0) + one.count
    rows = []
    for key, lap in plan.laps.items():
        peak = lap.answer.plan.movers[VEHICLE].peak
        rows.append(
            (
                key.name,
                str(counts[key.name]),
                plain(lap.length_m, 1),
                plain(lap.lasts_s, 1),
                plain(lap.length_m / lap.lasts_s * KMH_PER_MPS, 2),
                plain(peak.speed_mps * KMH_PER_MPS, 2),
                plain(peak.lateral_mps2, 2),
            )
        )
    header = (
        "lap",
        "times",
        "length\nm",
        "time\ns",
        "mean\nkm/h",
        "highest\nkm/h",
        "lateral\nm/s2",
    )
    return Table("kinds of lap, from line to line", header, tuple(rows), frozenset(range(1, 7)))


def _sequence(plan: PlannedCircuit, *, full: bool) -> Table:
    start = plan.circuit.written.start
    shown = plan.driven if full else plan.driven[:SHOWN]
    more = len(plan.driven) - len(shown)
    title = "sequence" if not more else f"sequence; {more} more with --all"
    rows = tuple(
        (
            _numbers(one),
            one.lap.name,
            clock(start + one.starts_s),
            clock(start + one.starts_s + one.lasts_s),
            plain(one.lasts_s, 1),
        )
        for one in shown
    )
    return Table(title, ("laps", "kind", "begins", "ends", "lasts\ns"), rows, frozenset({4}))


def _numbers(one: Driven) -> str:
    return str(one.first) if one.count == 1 else f"{one.first} to {one.first + one.count - 1}"


def _surfaces(plan: PlannedCircuit) -> Iterator[Table]:
    totals = plan.totals
    rows = tuple(
        (name, plain(way, 1), plain(totals.surfaces_s[name], 1))
        for name, way in totals.surfaces_m.items()
    )
    way = totals.way_m - sum(totals.surfaces_m.values())
    if way > LEAST_M:
        lasts = totals.lasts_s - sum(totals.surfaces_s.values())
        rows = (*rows, ("none named", plain(way, 1), plain(lasts, 1)))
    if totals.surfaces_m:
        yield Table("surfaces", ("surface", "way\nm", "time\ns"), rows, frozenset({1, 2}))


def _roads(plan: PlannedCircuit) -> Iterator[Table]:
    totals, rows = plan.totals, []
    for name, one in plan.circuit.surfaces.items():
        if one.road is None or not totals.surfaces_m.get(name):
            continue
        mean = totals.surfaces_m[name] / totals.surfaces_s[name]
        rows.append(
            (
                name,
                one.road,
                plain(1000.0 * displacement_m(one.road), 1),
                plain(mean * KMH_PER_MPS, 1),
                plain(velocity_mps(one.road, mean), 3),
            )
        )
    if rows:
        title = "roads by ISO 8608, waves of 0.35 to 91 m, root mean squares"
        header = ("surface", "class", "height\nmm", "at\nkm/h", "vertical\nm/s")
        yield Table(title, header, tuple(rows), frozenset({2, 3, 4}))


def a_day(way: float, lasts_s: float) -> float:
    """Give the way of a day, in the unit of way."""
    return way * DAY_S / lasts_s


def _passes(plan: PlannedCircuit) -> Iterator[Table]:
    rows = tuple((name, str(count)) for name, count in plan.totals.passes.items())
    if rows:
        yield Table("passes of named pieces", ("piece", "times"), rows, frozenset({1}))


def _exposure(plan: PlannedCircuit, one: Exposure) -> Iterator[Section]:
    rows = tuple(
        (
            name,
            VALUES[name],
            "not in a day" if hours > DAY_S / HOUR_S else plain(hours, 2),
            "-" if hours > DAY_S / HOUR_S else str(_laps_in(plan, hours)),
            str(one.drivers[name]),
        )
        for name, hours in one.hours.items()
    )
    header = ("value", "reached at", "after\nh a day", "laps", "drivers")
    yield Table("whole-body vibration of a person at the wheel", header, rows, frozenset({2, 3, 4}))
    person = plan.circuit.written.driven_by == "person"
    whole = "The whole run" if plan.totals.lasts_s <= DAY_S else "The worst 24 hours in a row"
    lines = [
        f"{whole} by one person: A(8) {plain(one.a8_mps2, 3)} m/s2, estimated VDV {plain(one.vdv, 2)} m/s^1.75; "
        f"{plain(one.mean_mps2, 2)} m/s2 in the mean while it lasts, standing counted as none. Directive 2002/44/EC, "
        "with the vibration that the file gives for each surface. Drivers: how many a day keep below, if they "
        "share it evenly."
    ]
    if not person:
        lines.append("Driven by a robot with nobody inside, none of this applies.")
    elif one.needed > 1:
        lines.append(
            "So one person must not drive it: change drivers, or drive it with nobody inside."
        )
    yield Notes("exposure", tuple(lines))


def _laps_in(plan: PlannedCircuit, hours: float) -> int:
    """How many laps, of the mix that is driven, fit into so many hours."""
    mean_s = plan.totals.lasts_s / plan.circuit.written.laps
    return math.floor(hours * 3600.0 / mean_s)


def _heat(plan: PlannedCircuit) -> Iterator[Notes]:
    model, totals = plan.circuit.temperature, plan.totals
    if model is None or totals.highest_degc is None or totals.last_degc is None:
        return
    text = (
        f"From {model.starts:g} degC: highest {plain(totals.highest_degc, 1)} degC, "
        f"{plain(totals.last_degc, 1)} degC at the end. A model of first order with the numbers that the file gives."
    )
    yield Notes("temperature", (text,))


def _stops(plan: PlannedCircuit) -> Notes:
    if plan.circuit.ground is None:
        text = (
            "The site draws no ground: whether stops from any instant stay on it was not looked at. "
            "Name a site with areas to have every kind of lap checked."
        )
        return Notes("stops from any instant", (text,), "ground")
    alike: dict[str, list[str]] = {}
    for key, lap in plan.laps.items():
        space = lap.answer.plan.space
        if space is None or space.site is None:
            continue
        stop = space.stops.get(VEHICLE)
        way = "" if stop is None else f"; the longest stop takes {plain(stop.longest_m, 1)} m"
        fit = space.site
        where = f"[{plain(fit.x_m, 1)} m, {plain(fit.y_m, 1)} m], {fit.edge}"
        side = (
            f"{plain(fit.margin_m, 2)} m inside at the least"
            if fit.margin_m >= 0
            else f"{plain(-fit.margin_m, 2)} m OUTSIDE"
        )
        alike.setdefault(f"{side}, at {where}{way}.", []).append(key.name)
    lines = [
        f"lap{'' if len(names) == 1 else 's'} {', '.join(names)}: {text}"
        for text, names in alike.items()
    ]
    lines.append(
        "What is swept by plan or by a stop from any instant, along the path or straight on, errors included; a bound "
        "over all kinds of lap, hence over all laps."
    )
    return Notes("stops from any instant", tuple(lines), "ground")


def document_of_circuit(plan: PlannedCircuit) -> dict[str, Any]:
    """Give the circuit's plan as plain data: kinds of lap once, each with its own plan, and the sequence."""
    start = plan.circuit.written.start
    return {
        "format": CIRCUIT_FORMAT,
        "title": plan.circuit.base.title,
        "well": plan.well,
        "failures": [one.text for one in messages_of(plan.failures)],
        "warnings": [one.text for one in messages_of(plan.notes)],
        "line_mps": plan.line_mps,
        "laps": {
            key.name: {
                "length_m": lap.length_m,
                "lasts_s": lap.lasts_s,
                "excursions": list(key.excursions),
                "spells": plain_data(lap.spells),
                "plan": to_document(lap.answer.plan),
            }
            for key, lap in plan.laps.items()
        },
        "sequence": [
            {
                "lap": one.lap.name,
                "first": one.first,
                "count": one.count,
                "begins_at_s": start + one.starts_s,
                "lasts_s": one.lasts_s,
            }
            for one in plan.driven
        ],
        "totals": plain_data(plan.totals) | {"passes": dict(plan.totals.passes)},
        "exposure": None if plan.exposure is None else plain_data(plan.exposure),
        "reverse_s": plan.reverse_s,
    }


def text_of_circuit(plan: PlannedCircuit) -> str:
    """Give the document as text."""
    return json.dumps(document_of_circuit(plan), indent=2, allow_nan=False) + "\n"
