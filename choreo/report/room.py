"""What a plan needs of the ground around it, in tables and sentences."""

from __future__ import annotations

from pathlib import PurePath
from typing import assert_never

from choreo.plans.record import Plan
from choreo.plans.room_record import NoReturn, PairClearance, SightPlan, SpacePlan
from choreo.report.sections import Notes, Section, Table
from choreo.report.zone import area_words, extent_words
from choreo.words.display import metres, plain, seconds

# Pairs farther apart than so many others stand behind `--all`.
MOST_PAIRS = 10
# Cones farther away than so many others as well.
MOST_CONES = 10


def failed_checks(space: SpacePlan) -> list[Section]:
    """Give what forbids the run, if anything does."""
    lines = tuple(f"{_place(one.place)}{one.text}. {one.advice}" for one in space.failures)
    return [failed_notes(lines)] if lines else []


def failed_notes(lines: tuple[str, ...]) -> Notes:
    """Give the section that stands before all others and forbids the run."""
    return Notes("CHECKS THAT FAILED: do not run this", lines, key="failed checks")


def _place(place: str | None) -> str:
    """The place without its folders: it is read on paper too."""
    return "" if place is None else f"{PurePath(place).name}: "


def room_sections(plan: Plan, *, full: bool = False) -> list[Section]:
    """Give stops, clearance, breaking off, sights and ground of a plan; none when they weren't looked at.

    full: all pairs, not the nearest only.
    """
    space = plan.space
    if space is None:
        return []
    return [
        *_stops(space),
        *_breaking_off(plan, space),
        *_clearances(space, full=full),
        *_sights(space),
        *_cones(space, full=full),
        Notes("ground", tuple(_ground(space)), key="ground"),
    ]


def _stops(space: SpacePlan) -> list[Section]:
    if not space.stops:
        return []
    rows = tuple(
        (
            name,
            plain(stop.brake_mps2, 2),
            plain(stop.reaction_s),
            plain(stop.longest_m),
            plain(stop.longest_at_s),
            "assumed: none is given" if stop.assumed else "scenario",
        )
        for name, stop in space.stops.items()
    )
    header = ("mover", "brakes\nm/s2", "reaction\ns", "longest\nm", "begun at\ns", "from")
    return [Table("failsafe stops", header, rows, frozenset({1, 2, 3, 4}))]


def _cones(space: SpacePlan, *, full: bool) -> list[Section]:
    """The nearest cones, those that are touched first."""
    if not space.cones:
        return []
    nearest = sorted(space.cones, key=lambda one: one.clear_m)
    shown = nearest if full else nearest[:MOST_CONES]
    rows = tuple(
        (
            one.name,
            one.side,
            plain(one.x_m),
            plain(one.y_m),
            one.mover,
            plain(one.clear_m),
            plain(one.station_m),
            "TOUCHED" if one.clear_m < 0.0 else "",
        )
        for one in shown
    )
    header = ("cone", "side", "x\nm", "y\nm", "nearest", "clear\nm", "at station\nm", "")
    count = len(space.cones)
    words = "" if len(shown) == count else f", the {len(shown)} nearest of {count}"
    return [Table(f"cones{words}", header, rows, frozenset({2, 3, 5, 6}))]


def _breaking_off(plan: Plan, space: SpacePlan) -> list[Section]:
    if not space.no_return:
        return []
    several = len({one.encounter for one in space.no_return}) > 1
    rows = tuple(
        (
            f"{one.encounter}: {party_words(one)}" if several else party_words(one),
            "" if one.time_s is None else plain(one.time_s),
            "" if one.before_s is None else plain(one.before_s),
            ", ".join(f"{name} {plain(left, 2)}" for name, left in one.before_m.items()),
            state_words(one, plan),
        )
        for one in space.no_return
    )
    title = (
        f"point of no return: last instant to break the run off and keep {space.settings.abort_margin_m:g} m at "
        "the encounter"
    )
    header = ("who stops", "after go\ns", "before it\ns", "way left\nm", "")
    return [Table(title, header, rows, frozenset({1, 2}))]


def party_words(one: NoReturn) -> str:
    """Say who breaks off."""
    return "all together" if one.by_all else f"{one.who} alone"


def state_words(one: NoReturn, plan: Plan) -> str:
    """Say what a time alone doesn't: never, always, only from, again later; and that it isn't avoided at all.

    The stop of one that takes no part leaves the encounter as it is, unless a trigger waits for that mover.
    """
    words = _when_words(one)
    if one.by_all or one.who in plan.encounters[one.encounter].pair or one.state == "never":
        return words
    watched = any(one.who in trigger.watched for trigger in plan.triggers.values())
    avoids = "takes no part: its stop " + ("may not" if watched else "doesn't") + " prevent this"
    return avoids if one.state == "always" else "; ".join(filter(None, (words, avoids)))


def _when_words(one: NoReturn) -> str:
    match one.state:
        case "never":
            if one.touches:
                return "never: bodies touch whenever it is broken off"
            return f"never by {plain(one.margin_m)} m: bodies keep apart, but come nearer"
        case "always":
            return "at any time up to the encounter"
        case "until":
            first, *later = one.windows
            if first[0] > 0.0:
                return f"only from {seconds(first[0])} on"
            return ", ".join(f"again from {seconds(a)} to {seconds(b)}" for a, b in later)
        case _:
            assert_never(one.state)


def _clearances(space: SpacePlan, *, full: bool) -> list[Section]:
    if not space.clearances:
        return []
    pairs = space.clearances if full else space.clearances[:MOST_PAIRS]
    rows = [_clearance_row(pair) for pair in pairs]
    left = len(space.clearances) - len(rows)
    title = "clearance, bodies at least this far apart"
    if left > 0:
        title += f" ({left} more pairs with --all)"
    header = ("pair", "least\nm", "after go\ns", "x\nm", "y\nm", "")
    return [Table(title, header, tuple(rows), frozenset({1, 2, 3, 4}))]


def _clearance_row(pair: PairClearance) -> tuple[str, ...]:
    names = f"{pair.a} / {pair.b}"
    if pair.meets_s is not None:
        # That it doesn't touch earlier is the verifier's word.
        where = (plain(pair.x_m, 2), plain(pair.y_m, 2))
        return (names, "", plain(pair.meets_s), *where, "meets as intended")
    return (
        names,
        plain(pair.least_m),
        plain(pair.time_s),
        plain(pair.x_m, 2),
        plain(pair.y_m, 2),
        "",
    )


def _sights(space: SpacePlan) -> list[Section]:
    if not space.sights:
        return []
    rows = tuple(
        (
            one.name,
            f"{100 * one.share:g} % of {one.to}",
            "never" if one.first_s is None else plain(one.first_s),
            "" if one.to_collision_s is None else plain(one.to_collision_s),
            "" if one.wanted_s is None else _wanted(one),
        )
        for one in space.sights
    )
    header = ("sight", "what", "first seen\ns", "to collision\ns", "wanted\ns")
    table = Table("sight lines", header, rows, frozenset({2, 3, 4}))
    places = tuple(place_words(one) for one in space.sights if one.move_m is not None)
    if not places:
        return [table]
    return [table, Notes("obstacles placed for them", places, key="obstacles of sights")]


def _wanted(one: SightPlan) -> str:
    missed = " MISSED" if one.within is False else ""
    return f"{plain(one.wanted_s or 0.0)} +/- {plain(one.tolerance_s or 0.0)}{missed}"


def place_words(one: SightPlan) -> str:
    """Say where the obstacle that a sight moves must stand."""
    return (
        f"{one.moving}: x {plain(one.x_m or 0.0)} m, y {plain(one.y_m or 0.0)} m, "
        f"{plain(one.move_m or 0.0)} m along its heading from where the scenario has it."
    )


def _ground(space: SpacePlan) -> list[str]:
    lines = []
    fit = space.site
    if fit is not None and fit.outside_m2 == 0.0:
        lines.append(
            f"On {fit.site}: all that is swept by plan or by a stop stays {metres(fit.margin_m)} from {fit.edge} "
            f"(nearest at x {plain(fit.x_m, 2)}, y {plain(fit.y_m, 2)}), path and position errors included."
        )
    elif fit is None:
        lines.append(
            "The scenario's site draws no ground: whether there is room for it was not looked at."
        )
    zone = space.keep_out
    if zone is not None:
        lines.append(
            f"Keep-out zone: {area_words(zone.area_m2)}, {extent_words(zone)}: what is swept by plan or by a stop "
            f"from any instant, along the path or straight on ({area_words(zone.swept_m2)}), with errors of "
            f"{zone.error_m:g} m and a margin of {zone.margin_m:g} m. "
            "`choreo export --keep-out` writes it for maps."
        )
    return lines
