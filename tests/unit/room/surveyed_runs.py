"""Small scenarios on sites of their own, for tests of room. All figures invented."""

from pathlib import Path

from choreo.case import Answer, whole_answer
from choreo.scenario import Scenario, loads

LANE = "lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 300 m}]}"
BODY = "{length: 4.30 m, width: 1.80 m, front overhang: 3.40 m}"
LIMITS = "{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, failsafe: {brake: 6 m/s2, reaction: 0.5 s}}"


def site_text(areas: str, more: str = "") -> str:
    """A site file."""
    return f"choreo site: 1\ntitle: Test pad\nareas:\n{areas}\n{more}"


def area(name: str, x: float, y: float, to_x: float, to_y: float, more: str = "") -> str:
    """A rectangle of a site file."""
    corners = f"[[{x} m, {y} m], [{to_x} m, {y} m], [{to_x} m, {to_y} m], [{x} m, {to_y} m]]"
    return f"  {name}: {{outline: {corners}{more}}}"


def scenario_text(
    more: str = "", *, programme: str = "", paths: str = LANE, limits: str = LIMITS
) -> str:
    """A car that speeds up, holds and stops, with more movers and blocks."""
    steps = programme or "[{ramp: {to: 36 km/h}}, {hold: {for: 5 s}}, {stop: {}}]"
    return f"""\
choreo: 1
title: Room
site: site.yaml
paths:
  {paths}
movers:
  subject:
    path: lane
    body: {BODY}
    limits: {limits}
    start: {{station: 10 m}}
    programme: {steps}
{more}"""


def made(folder: Path, text: str, site: str) -> Scenario:
    """A scenario beside its site."""
    (folder / "site.yaml").write_text(site, encoding="utf-8")
    return loads(text, str(folder / "scenario.yaml"), folder)


def run(folder: Path, text: str, site: str) -> Answer:
    """Its whole answer."""
    return whole_answer(made(folder, text, site))
