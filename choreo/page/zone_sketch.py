"""All of a run from above within its keep-out zone: a drawing to scale for paper, x to the right, y up."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from choreo.geometry import Path, body_corners
from choreo.ground import Ground
from choreo.ground.outlines import Outline, outline_of
from choreo.page.markup import text
from choreo.page.room_data import Rings, polygons_of
from choreo.page.sheet_times import last_calls
from choreo.page.sketch import scale_bar
from choreo.plans.record import Plan
from choreo.plans.room_record import KeepOut
from choreo.report.zone import Extent, extent_of
from choreo.scenario import Scenario
from choreo.track.motion import motion_of

# In px of the drawing: its size on an A4 sheet; room for numbers beside and below it; the longest scale bar; a way's
# points; a letter's width and a line's height.
WIDE, MOST_HIGH = 660.0, 195.0
LEFT, BELOW, EDGE = 64.0, 38.0, 14.0
BAR = 70.0
DRIVEN_POINTS = 60
LETTER, LINE = 6.8, 12.0
# Half the length of a line across a way, and of the arrow to the north.
ACROSS, NORTH = 11.0, 13.0
# How far a mark reaches round its place.
MARK = 5.0
# The drawing is so wide on paper (mm).
PAPER_MM = 186.0
Box = tuple[float, float, float, float]


def sketch_of_zone(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    zone: KeepOut,
    ground: Ground | None,
) -> tuple[str, float]:
    """Draw the zone, the ground below it, what stands in it, ways, marks, triggers, last calls; and how high (mm)."""
    sketch = _Sketch(extent_of(zone))
    return sketch.drawn(scenario, plan, paths, zone, ground), sketch.high / WIDE * PAPER_MM


class _Sketch:
    """Lays site metres out on paper: y up, the same scale both ways."""

    def __init__(self, box: Extent) -> None:
        self.box = box
        across, up = box.x1_m - box.x0_m, box.y1_m - box.y0_m
        self.scale = min((WIDE - LEFT - EDGE) / across, (MOST_HIGH - BELOW - EDGE) / up)
        # A narrow zone stands in the middle.
        self.left = max(LEFT, (WIDE - across * self.scale) / 2)
        self.right = self.left + across * self.scale
        self.foot = EDGE + up * self.scale
        self.high = self.foot + BELOW
        self.taken: list[Box] = []

    def drawn(
        self,
        scenario: Scenario,
        plan: Plan,
        paths: Mapping[str, Path],
        zone: KeepOut,
        ground: Ground | None,
    ) -> str:
        inside = [f'<path class="zone" d="{self.shape(zone.polygons)}"/>']
        solid: dict[str, Outline] = {}
        if ground is not None:
            edges = [outline_of(one.polygon) for one in ground.areas]
            solid = {name: outline_of(one) for name, one in ground.obstacles.items()}
            inside += [self.area("edge", polygons_of(one)) for one in edges]
            inside += [self.area("solid", polygons_of(one)) for one in solid.values()]
        names: list[tuple[tuple[float, float], str, float]] = []
        for name, mover in plan.movers.items():
            start = mover.start
            here = self.put(start.x_m, start.y_m)
            if mover.pieces:
                inside.append(f'<path class="way" d="{self.way(plan, name, paths[name])}"/>')
                inside.append(self.cross(here))
            else:
                corners = body_corners(
                    scenario.movers[name].body.corners_m,
                    paths[name].pose(np.array([start.station_m])),
                )[0]
                inside.append(f'<path class="stands" d="{self.shape([[corners]])}"/>')
            names.append((here, name, MARK))
        names += [(self.put(*one.inside_m), name, 0.0) for name, one in solid.items()]
        names += [(self.put(*e.place), n, MARK) for n, e in plan.encounters.items() if e.place]
        inside += [self.target(one.place) for one in plan.encounters.values() if one.place]
        for at, across, kind, word in self.crossed(plan, paths):
            inside.append(self.line_across(at, across, kind))
            names.append((at, word, ACROSS))
        self.taken += [(x - MARK, y - r, x + MARK, y + r) for (x, y), _, r in names]
        words = "".join(self.name(*one) for one in names) + self.north(scenario)
        return (
            f'<svg class="sketch zone-sketch" viewBox="0 0 {WIDE:.0f} {self.high:.0f}" role="img" '
            'aria-label="Keep-out zone from above, x to the right, y up"><defs>'
            '<pattern id="zone-hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
            'patternTransform="rotate(45)"><rect class="zone-line" width="0.8" height="7"/></pattern>'
            f'<clipPath id="zone-frame"><rect x="{self.left - 3:.1f}" y="{EDGE - 3:.0f}" '
            f'width="{self.right - self.left + 6:.1f}" height="{self.foot - EDGE + 6:.1f}"/></clipPath></defs>'
            f'<g clip-path="url(#zone-frame)">{"".join(inside)}</g>{words}{self.extents()}'
            f"{scale_bar(BAR / self.scale, self.scale, self.high, self.left + 70)}</svg>"
        )

    def put(self, x_m: float, y_m: float) -> tuple[float, float]:
        return self.left + (x_m - self.box.x0_m) * self.scale, EDGE + (
            self.box.y1_m - y_m
        ) * self.scale

    def shape(self, polygons: Iterable[Iterable[Iterable[Iterable[float]]]]) -> str:
        return "".join(f"M{self.line(ring)}Z" for rings in polygons for ring in rings)

    def line(self, points: Iterable[Iterable[float]]) -> str:
        return "L".join("{:.1f} {:.1f}".format(*self.put(*point)) for point in points)

    def area(self, kind: str, polygons: list[Rings]) -> str:
        return f'<path class="{kind}" d="{self.shape(polygons)}"/>'

    def way(self, plan: Plan, name: str, path: Path) -> str:
        mover = plan.movers[name]
        motion = motion_of(mover)
        end_m = motion.state(motion.end_s).station_m
        poses = path.pose(np.linspace(mover.start.station_m, end_m, DRIVEN_POINTS))
        return f"M{self.line(zip(poses.x_m, poses.y_m, strict=True))}"

    def crossed(
        self, plan: Plan, paths: Mapping[str, Path]
    ) -> Iterator[tuple[tuple[float, float], tuple[float, float], str, str]]:
        """Where lines lie across ways: triggers' stations, and who is met at the last call; across: a unit vector."""
        found = [
            (one.watch, one.station_m, "fires", f"T {name}")
            for name, one in plan.triggers.items()
            if one.station_m is not None
        ]
        for one in last_calls(plan):
            name = plan.encounters[one.encounter].of
            if plan.movers[name].pieces and one.time_s is not None:
                at_m = motion_of(plan.movers[name]).state(one.time_s).station_m
                found.append((name, at_m, "call", "last call"))
        for name, at_m, kind, word in found:
            pose = paths[name].pose(np.array([at_m]))
            heading = float(pose.heading_rad[0])
            at = self.put(float(pose.x_m[0]), float(pose.y_m[0]))
            yield at, (math.sin(heading), math.cos(heading)), kind, word

    def line_across(self, at: tuple[float, float], across: tuple[float, float], kind: str) -> str:
        (x, y), (dx, dy) = at, across
        return (
            f'<path class="{kind}" d="M{x - ACROSS * dx:.1f} {y - ACROSS * dy:.1f}'
            f'L{x + ACROSS * dx:.1f} {y + ACROSS * dy:.1f}"/>'
        )

    def north(self, scenario: Scenario) -> str:
        """An arrow to the north, where it is known: counter-clockwise from x by the bearing of x."""
        anchor = None if scenario.site is None else scenario.site.anchor
        if anchor is None:
            return ""
        turn = math.radians(anchor.bearing_deg)
        dx, dy = math.cos(turn), -math.sin(turn)
        x, y = NORTH + 4.0, self.foot + 19.0
        tip = x + NORTH * dx, y + NORTH * dy
        left, right = (
            (tip[0] - 7 * dx + side * 3.5 * dy, tip[1] - 7 * dy - side * 3.5 * dx)
            for side in (1, -1)
        )
        return (
            f'<path class="north" d="M{x - NORTH * dx:.1f} {y - NORTH * dy:.1f}L{tip[0]:.1f} {tip[1]:.1f}'
            f'M{left[0]:.1f} {left[1]:.1f}L{tip[0]:.1f} {tip[1]:.1f}L{right[0]:.1f} {right[1]:.1f}"/>'
            f'<text x="{x + NORTH + 2:.1f}" y="{y + 4:.1f}">N</text>'
        )

    def cross(self, at: tuple[float, float]) -> str:
        x, y = at
        return f'<path class="mark" d="M{x - 4:.1f} {y - 4:.1f}l8 8M{x - 4:.1f} {y + 4:.1f}l8 -8"/>'

    def target(self, place: tuple[float, float]) -> str:
        x, y = self.put(*place)
        return f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'

    def name(self, at: tuple[float, float], words: str, reach: float) -> str:
        """A name beside its mark, which reaches so far up and down; left out where no room is left for it."""
        x, y = at
        wide = LETTER * len(words) + 4
        above, below = y - reach - 4, y + reach + LINE + 2
        for left, base in (
            (x - wide / 2, above),
            (x - wide / 2, below),
            (x - wide / 2, above - LINE),
            (x - wide / 2, below + LINE),
            (x + 7, above),
            (x - wide - 5, above),
            (x + 7, below),
            (x - wide - 5, below),
        ):
            box = (left, base - LINE, left + wide, base + 2)
            inside = left > 0 and box[2] < WIDE and box[1] > 0 and base < self.foot
            if inside and all(
                box[2] < t[0] or box[0] > t[2] or box[3] < t[1] or box[1] > t[3] for t in self.taken
            ):
                self.taken.append(box)
                return f'<text x="{left + 2:.1f}" y="{base:.1f}">{text(words)}</text>'
        return ""

    def extents(self) -> str:
        """Where the box round the zone begins and ends."""
        box, foot = self.box, self.foot
        below = foot + 14
        return (
            f'<path class="scale" d="M{self.left:.1f} {foot + 3:.1f}v5M{self.right:.1f} {foot + 3:.1f}v5'
            f'M{self.left - 3:.1f} {EDGE:.1f}h-5M{self.left - 3:.1f} {foot:.1f}h-5"/>'
            f'<text x="{self.left:.1f}" y="{below + 4:.1f}">x {box.x0_m:.1f} m</text>'
            f'<text class="at-end" x="{self.right:.1f}" y="{below + 4:.1f}">x {box.x1_m:.1f} m</text>'
            f'<text class="at-end" x="{self.left - 10:.1f}" y="{EDGE + 5:.1f}">y {box.y1_m:.1f}</text>'
            f'<text class="at-end" x="{self.left - 10:.1f}" y="{foot + 2:.1f}">y {box.y0_m:.1f}</text>'
        )
