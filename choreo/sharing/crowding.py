"""What makes a shared site slow: more vehicles than its main path carries, places in which few can take turns."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.sharing.bounds import turns_of
from choreo.sharing.planning import SharedTrack
from choreo.words import Finding
from choreo.words.display import KMH_PER_MPS
from choreo.words.quantities import quoted


def carried(track: SharedTrack) -> int:
    """Give how many vehicles the main path carries at once: so many gaps at the highest speed fit on it."""
    runs = [one.course for one in track.jobs if one.course is not None]
    if not runs:
        return 0
    return int(runs[0].lap_m / float(track.gap.at(max(one.fastest_mps for one in runs))))


def warnings_of(track: SharedTrack) -> tuple[Finding, ...]:
    """Give slips of the file, and what makes vehicles drive one after the other, with what would help."""
    return (*track.notes, *_crowded(track), *_few_turns(track))


def _crowded(track: SharedTrack) -> Iterator[Finding]:
    driving = [one for one in track.jobs if one.course is not None]
    carries = carried(track)
    if len(driving) <= carries:
        return
    fastest = max(one.course.fastest_mps for one in driving if one.course is not None)
    values: dict[str, str | float] = {
        "count": len(driving),
        "carries": carries,
        "speed": f"{fastest * KMH_PER_MPS:.1f} km/h",
    }
    place = track.places.get(driving[-1].of)
    yield Finding("share.crowded", "warning", place, values, ())


def _few_turns(track: SharedTrack) -> Iterator[Finding]:
    for one in turns_of(track.jobs):
        if one.once >= one.vehicles:
            continue
        values: dict[str, str | float] = {
            "place": quoted(one.place),
            "use": f"{one.use_s:.1f} s",
            "way": f"{one.way_s:.1f} s",
            "once": one.once,
            "count": one.vehicles,
            "shorter": f"{one.use_s - one.way_s / one.once:.1f} s",
            "longer": f"{one.once * one.use_s - one.way_s:.1f} s",
            "more": one.once + 1,
        }
        yield Finding("share.few-turns", "warning", track.places.get(one.of), values, ())
