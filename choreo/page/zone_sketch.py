"""The keep-out zone from above: a small drawing to scale for paper, black on white, x to the right, y up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from choreo.geometry import Path, body_corners
from choreo.ground import Ground
from choreo.ground.outlines import Outline, outline_of
from choreo.page.markup import text
from choreo.page.room_data import Rings, polygons_of
from choreo.page.sketch import scale_bar
from choreo.plans.record import Plan
from choreo.plans.room_record import KeepOut
from choreo.report.zone import Extent, extent_of
from choreo.scenario import Scenario
from choreo.track.motion import motion_of

# In px of the drawing: its size on an A4 sheet; room for numbers beside and below it; the longest scale bar; a way's
# points; a letter's width and a line's height.
WIDE, MOST_HIGH = 660.0, 230.0
LEFT, BELOW, EDGE = 54.0, 34.0, 10.0
BAR = 70.0
DRIVEN_POINTS = 60
LETTER, LINE = 5.6, 11.0
Box = tuple[float, float, float, float]


def sketch_of_zone(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    zone: KeepOut,
    ground: Ground | None,
) -> str:
    """Draw the zone with the ground below it, what stands in it, and the ways that the plan drives."""
    return _Sketch(extent_of(zone)).drawn(scenario, plan, paths, zone, ground)


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
        names = []
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
            names.append((here, name))
        names += [(self.put(*one.inside_m), name) for name, one in solid.items()]
        inside += [self.target(one.place) for one in plan.encounters.values() if one.place]
        words = "".join(self.name(at, name) for at, name in names)
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

    def cross(self, at: tuple[float, float]) -> str:
        x, y = at
        return f'<path class="mark" d="M{x - 4:.1f} {y - 4:.1f}l8 8M{x - 4:.1f} {y + 4:.1f}l8 -8"/>'

    def target(self, place: tuple[float, float]) -> str:
        x, y = self.put(*place)
        return f'<circle class="mark" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'

    def name(self, at: tuple[float, float], words: str) -> str:
        """A name beside its place; left out where no room is left for it."""
        x, y = at
        wide = LETTER * len(words) + 4
        for left, base in (
            (x - wide / 2, y - 7),
            (x + 7, y + 4),
            (x - wide / 2, y + 15),
            (x - wide - 5, y + 4),
            (x + 7, y - 7),
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
