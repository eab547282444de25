"""A circuit planned: every kind of lap once, the sequence, totals, heat, exposure, and what of it fails."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from choreo.circuits.exposure import DAY_S, HOUR_S, shares_of, worst_day
from choreo.circuits.heat import Heat, heat_of
from choreo.circuits.lap import (
    Lap,
    place_of_lap,
    place_of_speed,
    planned_lap,
    seam_faults,
    surveyed,
    window_missed,
)
from choreo.circuits.records import VEHICLE, Circuit, Driven, Exposure, LapKey, Spell, Totals
from choreo.circuits.sequence import Sequence, sequence_of
from choreo.geometry.sections import sections_of
from choreo.ground.limits import limits_on_ground
from choreo.pace import Zone, drive, drive_of, lasts_s, zones_of
from choreo.pace.quickest import speed_at
from choreo.pace.records import Leg, TooSlow, WindowMissed
from choreo.scenario import Limits
from choreo.solve import Solvers
from choreo.words import ChoreoError, Finding
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# The line is passed slower by this share, again and again, until every kind of lap can do it.
SLOWER = 0.97
MOST_TRIES = 60
# Shares of an exposure below this are none.
TINY = 1e-9
Progress = Callable[[str], None]


@dataclass(frozen=True)
class PlannedCircuit:
    """A circuit's laps by kind, in the order in which they are first driven, and what is told of the whole.

    line_mps: the speed at which laps pass the line. failures: what makes it not to be driven as it is; notes: warnings.
    reverse_s: time of a plain lap the other way round, where that was asked.
    """

    circuit: Circuit
    laps: Mapping[LapKey, Lap]
    line_mps: float
    sequence: Sequence
    totals: Totals
    exposure: Exposure | None
    failures: tuple[Finding, ...]
    notes: tuple[Finding, ...]
    reverse_s: float | None = None

    @property
    def driven(self) -> tuple[Driven, ...]:
        return self.sequence.driven

    @property
    def well(self) -> bool:
        """Whether nothing of it fails."""
        return not self.failures


def plan_circuit(circuit: Circuit, tell: Progress | None = None) -> PlannedCircuit:
    """Plan a circuit. tell: called with a word for each step.

    Raises ChoreoError: circuit.no-lap (with the place on the lap), and what limits on the ground raise.
    """
    solvers = Solvers()
    say = tell or (lambda _word: None)
    line_mps, laps = _with_a_line(circuit, solvers, say)
    heats: dict[LapKey, Heat] = {}

    def lap_of(key: LapKey) -> Lap:
        if key not in laps:
            say(f"lap `{key.name}`")
            laps[key] = planned_lap(circuit, key, line_mps, solvers)
        return laps[key]

    def heat(key: LapKey) -> Heat:
        if key not in heats and circuit.temperature is not None:
            heats[key] = heat_of(lap_of(key).spells, circuit.surfaces, circuit.temperature)
        return heats[key]

    say("sequence")
    sequence = sequence_of(circuit, lap_of, heat if circuit.temperature is not None else None)
    keys = list(dict.fromkeys(one.lap for one in sequence.driven))
    used = {key: laps[key] for key in keys}
    if circuit.ground is not None:
        for key in keys:
            say(f"room of lap `{key.name}`")
            used[key] = surveyed(used[key])
    totals = _totals(circuit, used, sequence)
    exposure = _exposure(circuit, used, sequence)
    failures = [*seam_faults(circuit, used, _follow(sequence)), *_room(circuit, used)]
    failures += _failing(circuit, sequence, exposure)
    notes = [*circuit.notes, *_notes(circuit, sequence), *_in_every_lap(circuit, used, sequence)]
    return PlannedCircuit(
        circuit,
        used,
        line_mps,
        sequence,
        totals,
        exposure,
        tuple(failures),
        tuple(notes),
        _reverse_s(circuit) if circuit.written.both_ways else None,
    )


def _with_a_line(
    circuit: Circuit, solvers: Solvers, say: Progress
) -> tuple[float, dict[LapKey, Lap]]:
    """The highest speed at the line that every kind of lap can do, in steps, and these laps."""
    line_mps = _steady_mps(circuit)
    single = circuit.written.laps == 1
    keys = [LapKey((), True, True)] if single else [LapKey((), True), LapKey((), False, True)]
    keys += [] if single else [LapKey((name,)) for name in circuit.excursions]
    keys += [LapKey()] if circuit.written.laps > 2 else []
    failed: ChoreoError | None = None
    missed: ChoreoError | None = None
    for _ in range(MOST_TRIES):
        laps: dict[LapKey, Lap] = {}
        try:
            for key in keys:
                say(f"lap `{key.name}`")
                laps[key] = planned_lap(circuit, key, line_mps, solvers)
            return line_mps, laps
        except ChoreoError as error:
            codes = {one.code for one in error.findings}
            if codes == {"circuit.window-missed"}:
                # Who is slower at the line is no faster elsewhere: a window missed twice is missed for good.
                if missed is not None and missed.findings[0].origin == error.findings[0].origin:
                    raise missed from None
                missed = error
            elif codes != {"circuit.no-lap"}:
                raise
            failed = failed or error
            line_mps *= SLOWER
    raise missed or failed or AssertionError("there is a first try")


def _steady_mps(circuit: Circuit) -> float:
    """The speed at the line of a second lap, from rest in the first, with a third one to come."""
    main = circuit.paths[circuit.written.main]
    limits = _limits(circuit)
    sections = sections_of(circuit.base.paths[circuit.written.main], main)
    zones = zones_of(main, sections, 0.0, 2.0 * circuit.lap_m, limits.lateral_mps2)
    try:
        legs = drive(zones, 0.0, None, drive_of(limits))
    except TooSlow as slow:
        if circuit.written.laps > 1 and slow.station_m >= circuit.lap_m:
            if isinstance(slow, WindowMissed):
                raise window_missed(circuit, LapKey(), slow.values, circuit.lap_m) from None
            raise _no_lap(circuit, slow) from None
        # What the first lap can't do from rest its own kind of lap tells.
        legs = drive([_without_window(one) for one in zones], 0.0, None, drive_of(limits))
    return _at_the_line_mps(legs, circuit.lap_m)


def _at_the_line_mps(legs: Iterable[Leg], line_m: float) -> float:
    return speed_at(next(leg for leg in legs if leg.end_m >= line_m), line_m)


def _limits(circuit: Circuit) -> Limits:
    """What the ground under the main path leaves of the vehicle's limits."""
    by_mover = {VEHICLE: circuit.paths[circuit.written.main]}
    on = limits_on_ground(circuit.base, by_mover, circuit.ground)
    return on.scenario.movers[VEHICLE].limits


def _without_window(zone: Zone) -> Zone:
    return replace(zone, least_mps=0.0)


def _no_lap(circuit: Circuit, slow: TooSlow, way: str = "") -> ChoreoError:
    values = {
        "lap": LapKey().name,
        "what": f"{way}at station {slow.station_m % circuit.lap_m:.1f} m: {slow.why}",
        "instead": slow.instead,
    }
    place = None if way else place_of_speed(circuit, LapKey(), slow.station_m % circuit.lap_m)
    place = place or place_of_lap(circuit, LapKey())
    return ChoreoError((Finding("circuit.no-lap", "error", place, values, ()),))


def _reverse_s(circuit: Circuit) -> float:
    """A plain lap the other way round: the same stretches from the end, at the quickest.

    The line is passed at a speed that doesn't change there, as by the laps of the sequence: where the quickest drive
    brakes across it, slower in steps.
    """
    main = circuit.paths[circuit.written.main]
    spec = circuit.base.paths[circuit.written.main]
    lap = circuit.lap_m
    limits = _limits(circuit)
    zones = zones_of(main, sections_of(spec, main), 0.0, lap, limits.lateral_mps2)
    turned = [
        replace(
            z,
            start_m=lap - z.end_m,
            end_m=lap - z.start_m,
            k0_per_m=-z.k1_per_m,
            k1_per_m=-z.k0_per_m,
        )
        for z in reversed(zones)
    ]
    rates = drive_of(limits)
    again = [replace(z, start_m=z.start_m + lap, end_m=z.end_m + lap) for z in turned]
    both = [*turned, *again]
    speed = _at_the_line_mps(drive([_without_window(one) for one in both], 0.0, None, rates), lap)
    failed: TooSlow | None = None
    for _ in range(MOST_TRIES):
        try:
            return lasts_s(drive(turned, speed, speed, rates))
        except TooSlow as slow:
            failed = failed or slow
            speed *= SLOWER
    assert failed is not None  # every try failed
    raise _no_lap(circuit, failed, "the other way round, with stations counted along it, ")


def _follow(sequence: Sequence) -> set[tuple[LapKey, LapKey]]:
    """Which kind of lap comes after which."""
    found = set()
    for before, after in zip(sequence.driven, sequence.driven[1:], strict=False):
        found.add((before.lap, after.lap))
    found |= {(one.lap, one.lap) for one in sequence.driven if one.count > 1}
    return found


def _totals(circuit: Circuit, laps: Mapping[LapKey, Lap], sequence: Sequence) -> Totals:
    ways: dict[str, float] = {}
    times: dict[str, float] = {}
    passes: Counter[str] = Counter()
    lasts, way, standing = 0.0, 0.0, 0.0
    for key, count in _counts(sequence).items():
        lap = laps[key]
        lasts += count * lap.lasts_s
        way += count * lap.length_m
        for spell in lap.spells:
            standing += count * spell.lasts_s if spell.stands else 0.0
            if spell.surface is not None:
                name = spell.surface
                ways[name] = ways.get(name, 0.0) + count * spell.way_m
                times[name] = times.get(name, 0.0) + count * spell.lasts_s
        for name in lap.passes(circuit):
            passes[name] += count
    return Totals(
        lasts, way, ways, times, passes, standing, sequence.highest_degc, sequence.last_degc
    )


def _counts(sequence: Sequence) -> Counter[LapKey]:
    counts: Counter[LapKey] = Counter()
    for one in sequence.driven:
        counts[one.lap] += one.count
    return counts


def _exposure(circuit: Circuit, laps: Mapping[LapKey, Lap], sequence: Sequence) -> Exposure | None:
    """What a person at the wheel gets in a day; None where no surface says its vibration."""
    of_lap = {key: _felt(circuit, laps[key].spells) for key in _counts(sequence)}
    felt, lasts = (
        np.concatenate([np.tile(of_lap[one.lap][row], one.count) for one in sequence.driven])
        for row in (0, 1)
    )
    if not felt.any():
        return None
    a8_mps2, vdv = worst_day(felt, lasts)
    whole_s = float(lasts.sum())
    day_h = min(whole_s, DAY_S) / HOUR_S
    basis = circuit.written.exposure_by
    shares = {
        name: share
        for name, share in shares_of(a8_mps2, vdv).items()
        if basis == "both" or basis in name
    }
    hours = {name: day_h / max(share, TINY) for name, share in shares.items()}
    drivers = {name: max(1, math.ceil(share - TINY)) for name, share in shares.items()}
    mean = math.sqrt(float((felt**2 * lasts).sum()) / whole_s)
    return Exposure(a8_mps2, vdv, mean, hours, drivers)


def _felt(circuit: Circuit, spells: Iterable[Spell]) -> NDArray[np.float64]:
    """What is felt in m/s2 and how long in s, in the order of a lap's spells; shape (2, n)."""

    def felt(one: Spell) -> float:
        surface = circuit.surfaces.get(one.surface or "")
        return 0.0 if surface is None or one.stands else surface.vibration or 0.0

    runs = groupby(((felt(one), one.lasts_s) for one in spells), lambda one: one[0])
    return np.array([(value, math.fsum(t for _, t in run)) for value, run in runs]).T


def _room(circuit: Circuit, laps: Mapping[LapKey, Lap]) -> list[Finding]:
    """Checks of the room that fail, of every kind of lap: above all stops that leave the drivable ground."""
    place = circuit.origin("circuit")
    alike: dict[str, list[str]] = {}
    for key, lap in laps.items():
        space = lap.answer.plan.space
        for one in () if space is None else space.failures:
            alike.setdefault(one.text, []).append(key.name)
    return [
        Finding("circuit.room", "error", place, {"lap": _called(names), "text": text}, ())
        for text, names in alike.items()
    ]


def _called(names: list[str]) -> str:
    return f"{'lap' if len(names) == 1 else 'laps'} {', '.join(f'`{one}`' for one in names)}"


def _failing(circuit: Circuit, sequence: Sequence, exposure: Exposure | None) -> list[Finding]:
    found = []
    model = circuit.temperature
    if sequence.too_hot is not None and model is not None:
        values: dict[str, str | float] = {
            "lap": sequence.too_hot,
            "degc": f"{sequence.highest_degc or 0.0:.1f} degC",
            "most": f"{model.most:g} degC",
        }
        place = circuit.origin("temperature", "most")
        found.append(Finding("circuit.too-hot", "error", place, values, ()))
    if exposure is None or circuit.written.driven_by == "robot":
        return found
    place = circuit.origin("circuit", "driven by")
    if exposure.needed > 1:
        what = {
            "limit A(8)": f"A(8) {exposure.a8_mps2:.2f} m/s2 (limit 1.15)",
            "limit VDV": f"an estimated VDV of {exposure.vdv:.1f} m/s^1.75 (limit 21)",
        }
        limits = [one for one in what if one in exposure.hours]
        told: dict[str, str | float] = {
            "what": " and ".join(what[one] for one in limits),
            "drivers": exposure.needed,
            "hours": f"{min(exposure.hours[one] for one in limits):.2f}",
        }
        found.append(Finding("circuit.exposure", "error", place, told, ()))
    return found


def _notes(circuit: Circuit, sequence: Sequence) -> list[Finding]:
    found = [*_never(circuit, sequence), *_passed(circuit, sequence)]
    if not sequence.crowded:
        return found
    numbers = ", ".join(str(one) for one in sequence.crowded[:5])
    values = {"laps": numbers + (" and more" if len(sequence.crowded) > 5 else "")}
    place = circuit.origin("circuit", "excursions")
    return [*found, Finding("circuit.crowded", "warning", place, values, ())]


def _never(circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    """Excursions that no lap takes."""
    taken = {name for one in sequence.driven for name in one.lap.excursions}
    for name in circuit.excursions:
        if name in taken:
            continue
        why = "the run ends before it is due"
        before = circuit.written.excursions[name].before
        if before is not None and sequence.highest_degc is not None:
            why = f"the temperature is {sequence.highest_degc:.1f} degC at the most, it waits for {before:g} degC"
        values = {"excursion": quoted(name), "why": why}
        place = circuit.origin("circuit", "excursions", name)
        yield Finding("circuit.never", "warning", place, values, ())


def _in_every_lap(
    circuit: Circuit, laps: Mapping[LapKey, Lap], sequence: Sequence
) -> Iterator[Finding]:
    """Excursions after a time or a way that is shorter than a lap: a slip of the unit, as a rule."""
    shortest_s = min(lap.lasts_s for lap in laps.values())
    for name in {name: None for one in sequence.driven for name in one.lap.excursions}:
        due = circuit.written.excursions[name].every
        if due is None or due.laps is not None:
            continue
        if due.way_m is not None and due.way_m < circuit.lap_m:
            every, lap = f"{due.way_m:g} m", f"is {circuit.lap_m:.1f} m long"
            instead = f"Write `{due.way_m:g} min` if minutes are meant, `1 lap` if it is to come in every lap."
        elif due.time_s is not None and due.time_s < shortest_s:
            every, lap = f"{due.time_s:g} s", f"lasts {shortest_s:.1f} s"
            instead = "Write `1 lap` if it is to come in every lap."
        else:
            continue
        values = {"excursion": quoted(name), "every": every, "lap": lap, "instead": instead}
        place = circuit.origin("circuit", "excursions", name, "every")
        yield Finding("circuit.in-every-lap", "warning", place, values, ())


def _passed(circuit: Circuit, sequence: Sequence) -> Iterator[Finding]:
    """Temperatures that excursions were to come before."""
    for name, lap in sequence.passed.items():
        before = circuit.written.excursions[name].before
        values: dict[str, str | float] = {
            "excursion": quoted(name),
            "before": f"{before:g} degC",
            "lap": lap,
        }
        place = circuit.origin("circuit", "excursions", name, "before")
        yield Finding("circuit.before-passed", "warning", place, values, ())
