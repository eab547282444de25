"""Courses along a straight: slalom, lane departure, the room of a sine with dwell.

Sources: the slalom's spacing common practice; EN-LD v1.1 (departure: radii and steady phases, read); GB/T 30677-2014
(sine with dwell, read). Checked by C72 to C74, C144 and C152 of tests/references/SOURCES.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.courses import forms
from choreo.courses import sine_with_dwell as sine
from choreo.courses.record import Cone, Course, CourseFault, Layout, Piece, Side, Sizes, Steered

KMH = 1.0 / 3.6
# EN-LD: radius in m by speed in km/h, up to which it holds; with the wider one at a gentle departure.
RADII_M = (
    (70.0, 600.0, 400.0),
    (100.0, 1200.0, 800.0),
    (130.0, 2400.0, 1600.0),
    (math.inf, 4800.0, 3200.0),
)
# EN-LD: lateral way in m driven at the steady angle, by lateral speed in m/s.
STEADY_M: Mapping[float, float] = {
    0.2: 0.70,
    0.3: 0.90,
    0.4: 0.80,
    0.5: 0.75,
    0.6: 0.60,
    0.7: 0.525,
    0.8: 0.40,
    0.9: 0.225,
    1.0: 0.0,
}
ALTERNATIVE_M: Mapping[float, float] = {
    0.2: 0.7,
    0.3: 0.9,
    0.4: 0.8,
    0.5: 1.0,
    0.6: 1.2,
    0.7: 1.4,
    0.8: 1.6,
    0.9: 1.8,
    1.0: 2.0,
}
# Cycles of a weave: common practice, no source.
WEAVE_CYCLES = 10
DEPARTURES = ("unintentional", "intentional", "alternative")
# Up to this lateral speed (m/s) the alternative departure has the radii of the unintentional one.
GENTLE_MPS = 0.4


def slalom(sizes: Sizes) -> Layout:
    """Lay out cones in a row, passed on alternate sides at a distance, the first one to the left of it or the right."""
    spacing, count = sizes.spacing_m or 0.0, sizes.count or 0
    aside = sizes.aside_m or 0.0
    pieces = [Piece("line", length_m=sizes.run_up_m)]
    cones = []
    now = 0.0
    for index in range(count):
        hand = sizes.left * (1.0 if index % 2 == 0 else -1.0)
        pieces.append(Piece("shift", f"gate{index + 1}", spacing, offset_m=hand * aside - now))
        now = hand * aside
        side: Side = "right" if hand > 0 else "left"
        at = sizes.run_up_m + (index + 1) * spacing
        cones.append(Cone(f"cone {index + 1}", at, 0.0, side))
    pieces.append(Piece("shift", "exit", spacing, offset_m=-now))
    pieces.append(Piece("line", length_m=sizes.run_out_m))
    course = Course(
        "slalom",
        tuple(cones),
        line=sizes.line or "centres",
        margin_m=0.05 if sizes.margin_m is None else sizes.margin_m,
    )
    return Layout(course, tuple(pieces))


def departure_radius_m(speed_mps: float, lateral_mps: float, departure: str) -> float:
    """Give the radius of EN-LD's arc in m."""
    wide = departure == "unintentional" or (
        departure == "alternative" and lateral_mps <= GENTLE_MPS
    )
    for below, radius, tight in RADII_M:
        # The row of 100 km/h ends with 130 km/h itself.
        if speed_mps / KMH < below - 1e-9 or (below == 130.0 and speed_mps / KMH <= below + 1e-9):
            return radius if wide else tight
    raise AssertionError("the last row holds for all speeds")


def departure_m(speed_mps: float, lateral_mps: float, radius_m: float) -> tuple[float, float]:
    """Give the heading in rad that a lateral speed takes, and the lateral way D1 in m until an arc has led to it."""
    angle = math.asin(lateral_mps / speed_mps)
    return angle, radius_m * (1.0 - math.cos(angle))


def lane_departure(sizes: Sizes) -> Layout:
    """Lay out EN-LD's departure: an arc to the angle of the lateral speed, then straight on.

    Raises CourseFault: a departure, a lateral speed or a speed that it doesn't have.
    """
    speed, lateral = sizes.speed_mps or 0.0, sizes.lateral_mps or 0.0
    faults = []
    if sizes.departure not in DEPARTURES:
        words = ", ".join(f"`{one}`" for one in DEPARTURES)
        what = f"`{sizes.departure}` is no departure"
        faults.append(CourseFault("departure", what, f"Write one of {words}."))
    table = ALTERNATIVE_M if sizes.departure == "alternative" else STEADY_M
    steady = next((way for at, way in table.items() if abs(at - lateral) < 1e-9), None)
    if steady is None:
        words = ", ".join(f"{at:g}" for at in table)
        what = f"EN-LD has no steady phase for {lateral:g} m/s"
        faults.append(CourseFault("lateral speed", what, f"It has {words} m/s."))
    if speed <= lateral:
        what = "it is no faster than the lateral speed"
        faults.append(CourseFault("speed", what, "Write `speed: 72 km/h`."))
    if faults or steady is None or sizes.departure is None:
        first, *others = faults
        raise CourseFault(first.key, first.what, first.instead, others=tuple(others))
    radius = departure_radius_m(speed, lateral, sizes.departure)
    angle, _ = departure_m(speed, lateral, radius)
    pieces = [
        Piece("line", length_m=sizes.run_up_m),
        Piece("arc", "steer", radius_m=radius, angle_rad=sizes.left * angle),
    ]
    places = []
    if steady > 0.0:
        pieces.append(Piece("line", "steady", steady / math.sin(angle)))
    else:
        # Its name stands at the end of `steer`, so that a series over lateral speeds ends there in all of them.
        places.append(("steady", sizes.run_up_m + radius * angle))
    pieces.append(Piece("line", length_m=sizes.run_out_m))
    return Layout(Course("EN-LD departure"), tuple(pieces), tuple(places))


def sine_with_dwell(sizes: Sizes) -> Layout:
    """Lay out the room of a sine with dwell: from the beginning of steer to the last look at the yaw rate.

    The car leaves the line as it is steered by angle: the path is the straight from which it does. Room is counted as
    if its lateral acceleration had the shape of the steering, of so much that it comes as far aside as it must, and of
    its limit if that is more; up to the end of the run-out, as nobody says how it comes back.
    """
    speed = sizes.speed_mps or 0.0
    way = speed * (sine.TIMES_S[-1] + sine.WATCHED_S)
    begin = sizes.run_up_m
    steered = Steered(
        begin,
        begin + way + sizes.run_out_m,
        speed,
        asked_mps2=2.0 * min(sine.ASIDE_M) / sine.ASIDE_BY_S**2,
        counted_mps2=max(sine.ASIDE_M) / sine.displacement_m(1.0, sine.ASIDE_BY_S),
        way_s2=sine.most_aside_s2(),
        across_s=sine.DWELL_S,
        of_limit=True,
        lane_m=sizes.lane_width_m,
    )
    return _straight("sine with dwell", sizes, way, steered)


def weave(sizes: Sizes) -> Layout:
    """Lay out the room of a weave: so many cycles of steering to and fro, ten where no `count` says how many.

    As of the sine with dwell the path is the straight in its middle; it is left and met again on a sine.
    """
    frequency = sizes.frequency_hz or 1.0
    lateral = sizes.lateral_mps2 or 0.0
    speed = sizes.speed_mps or 0.0
    way = speed * (sizes.count or WEAVE_CYCLES) / frequency
    way_s2, _ = forms.weave(1.0, frequency, speed)
    steered = Steered(
        sizes.run_up_m,
        sizes.run_up_m + way,
        speed,
        asked_mps2=lateral,
        counted_mps2=lateral,
        way_s2=way_s2,
        across_s=1.0 / (2.0 * math.pi * frequency),
        in_quadrature=True,
        lane_m=sizes.lane_width_m,
    )
    return _straight("weave", sizes, way, steered)


def _straight(name: str, sizes: Sizes, way: float, steered: Steered) -> Layout:
    half = (sizes.lane_width_m or 0.0) / 2.0
    begin, end = sizes.run_up_m, sizes.run_up_m + way
    bounds = tuple(((begin, edge), (end, edge)) for edge in (-half, half)) if half else ()
    pieces = (
        Piece("line", length_m=begin),
        Piece("line", "manoeuvre", way),
        Piece("line", length_m=sizes.run_out_m),
    )
    return Layout(Course(name, bounds=bounds, steered=steered), pieces)
