"""Named pieces of a path that events refer to: each must begin or end on the path of its mover."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from choreo.geometry import Path
from choreo.scenario import Event, Gap, Scenario
from choreo.words import Finding
from choreo.words.quantities import quoted
from choreo.words.tolerances import SAME_POINT_M

Keys = tuple[str | int, ...]


def mark_faults(scenario: Scenario, paths: Mapping[str, Path]) -> list[Finding]:
    """Give a fault for every event at a mark that lies beyond its mover's path.

    A path beside another may be a window of it only; the pieces before and behind it are still called by their names.
    """
    faults = []
    for keys, event in _events(scenario):
        if event.kind not in ("mark start", "mark end"):
            continue
        path = paths[event.mover or ""]
        start_m, end_m = path.marks[event.name or ""]
        station_m = start_m if event.kind == "mark start" else end_m
        if not -SAME_POINT_M <= station_m <= path.length_m + SAME_POINT_M:
            values = {
                "edge": event.kind.removeprefix("mark "),
                "mover": event.mover or "",
                "piece": quoted(event.name or ""),
                "station": f"{station_m:.3f} m",
                "length": f"{path.length_m:.3f} m",
            }
            related = (scenario.origin("movers", event.mover or "", "path"),)
            faults.append(
                Finding("problem.mark-outside", "error", scenario.origin(*keys), values, related)
            )
    return faults


def _events(scenario: Scenario) -> Iterator[tuple[Keys, Event]]:
    """Every event that a scenario refers to, and where."""
    for name, encounter in scenario.encounters.items():
        if isinstance(encounter, Gap):
            yield ("encounters", name, "at"), encounter.at
    for name, instant in scenario.instants.items():
        yield ("instants", name, "before"), instant.before
    for name, mover in scenario.movers.items():
        for index, phase in enumerate(mover.programme):
            for key, event in (
                ("until", phase.until),
                ("settled by", phase.settled_by),
                ("at", phase.rests_at),
            ):
                if event is not None:
                    yield ("movers", name, "programme", index, phase.kind, key), event
