"""Published turning paths: clothoid, arc, clothoid; and where an oncoming target is when the car turns."""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from choreo.plans.record import Plan
from tests.references.scenario_texts import CAR, TARGET, path_of, planned


@dataclass(frozen=True)
class Turn:
    """A row of the table of turning paths with what follows from it."""

    name: str
    speed: str
    radius_m: float
    clothoid_deg: float
    arc_deg: float
    clothoid_m: float
    total_m: float
    end_m: float
    lateral_mps2: float

    @property
    def piece(self) -> str:
        return (
            f"bend: {{radius: {self.radius_m} m, clothoid angle: {self.clothoid_deg} deg, "
            f"arc angle: {self.arc_deg} deg, outer radius: 1500 m}}"
        )


# EN-FC v1.1, 1.2.4 (table of turning paths), SEEN. Inputs: R1 1500 m, R2, alpha, beta.
# C23: total length and end x = y; C24: clothoid length; C25: peak lateral acceleration.
TURNS = [
    Turn("10 farside", "10 km/h", 9.00, 20.62, 48.75, 6.439, 20.536, 12.380, 0.857),
    Turn("15 farside", "15 km/h", 11.75, 20.93, 48.14, 8.518, 26.908, 16.217, 1.478),
    Turn("20 farside", "20 km/h", 14.75, 21.79, 46.42, 11.110, 34.170, 20.577, 2.092),
    Turn("25 farside", "25 km/h", 14.75, 21.79, 46.42, 11.110, 34.170, 20.577, 3.270),
    Turn("10 nearside", "10 km/h", 8.00, 22.85, 44.30, 6.347, 18.880, 11.351, 0.965),
]
each_turn = pytest.mark.parametrize("turn", TURNS, ids=lambda turn: turn.name)


@each_turn
def test_turning_path_has_the_published_length_and_ends_where_published(turn: Turn) -> None:
    # C23: EN-FC v1.1, 1.2.4, SEEN: length within 0.002 m, x and y within 0.005 m, 90 deg within 0.02 deg
    # (the 10 km/h farside row sums to 89.99 deg).
    path = path_of(f"{{{turn.piece}}}")
    end = path.pose(np.array([path.length_m]))
    assert path.length_m == pytest.approx(turn.total_m, abs=0.002)
    assert (end.x_m[0], end.y_m[0]) == pytest.approx((turn.end_m, turn.end_m), abs=0.005)
    assert math.degrees(end.heading_rad[0]) == pytest.approx(90.0, abs=0.02)


@each_turn
def test_clothoids_of_a_turning_path_have_the_published_length(turn: Turn) -> None:
    # C24: EN-FC v1.1, 1.2.4, SEEN: within 0.002 m, both of them.
    lengths_m = [
        end_m - start_m
        for start_m, end_m, before, after in path_of(f"{{{turn.piece}}}").stretches()
        if abs(after - before) > 0
    ]
    assert lengths_m == pytest.approx([turn.clothoid_m, turn.clothoid_m], abs=0.002)


@each_turn
def test_sideways_jerk_in_the_clothoids_of_a_turning_path(turn: Turn) -> None:
    # C80: EN-FC v1.1, 1.2.4, SEEN; DERIVED: v^3 (1/R2 - 1/R1)/L and v/R2, within 0.001.
    jerks = {"10 farside": 0.3676, "15 farside": 0.7171, "20 farside": 1.0361}
    jerks |= {"25 farside": 2.0236, "10 nearside": 0.4199}
    turned = {"10 farside": 17.684, "15 farside": 20.318, "20 farside": 21.580}
    turned |= {"25 farside": 26.975, "10 nearside": 19.894}
    speed = float(turn.speed.split()[0]) / 3.6
    bends = list(path_of(f"{{{turn.piece}}}").stretches())
    growing = max((after - before) / (end - start) for start, end, before, after in bends)
    assert speed**3 * growing == pytest.approx(jerks[turn.name], abs=1e-3)
    rate = math.degrees(speed * max(abs(after) for _, _, _, after in bends))
    assert rate == pytest.approx(turned[turn.name], abs=1e-3)


@each_turn
def test_car_on_a_turning_path_has_the_published_lateral_acceleration(turn: Turn) -> None:
    # C25: EN-FC v1.1, 1.2.4, SEEN: within 0.002 m/s2.
    plan = planned(f"""\
choreo: 1
title: Turn
paths:
  turn:
    start: [0 m, 0 m]
    heading: 0 deg
    pieces: [{{line: 80 m}}, {{{turn.piece}, name: turn}}, {{line: 30 m}}]
movers:
  subject:
    path: turn
{CAR}
    programme:
      - ramp: {{to: {turn.speed}}}
      - hold: {{settle: 2 s, settled by: start of subject.turn, until: end of subject.turn}}
""")
    assert plan.movers["subject"].peak.lateral_mps2 == pytest.approx(turn.lateral_mps2, abs=0.002)


def left_turn(turn: Turn, target_speed: str) -> Plan:
    """A car turns left across an oncoming target: 1.75 m right of the middle of the road, then as far left of it."""
    return planned(f"""\
choreo: 1
title: Left turn across an oncoming target
paths:
  left:
    start: [-100 m, -1.75 m]
    heading: 0 deg
    pieces: [{{line: 85.533 m}}, {{{turn.piece}}}, {{line: 60 m}}]
  oncoming: {{start: [400 m, 1.75 m], heading: 180 deg, pieces: [{{line: 600 m}}]}}
movers:
  subject:
    path: left
{CAR}
    programme:
      - ramp: {{to: {turn.speed}}}
      - hold: {{settle: 4 s, until: contact}}
  target:
    path: oncoming
{TARGET}
    programme:
      - ramp: {{to: {target_speed}}}
      - hold: {{settle: 4 s, until: contact}}
encounters:
  contact: {{kind: contact, of: subject, with: target, overlap: 50 %, point: front centre}}
instants:
  car: {{before: contact, by: 3.5 s}}
  motorcycle: {{before: contact, by: 4.0 s}}
""")


@pytest.mark.parametrize(
    ("speed", "at_3_5_s_m", "at_4_0_s_m"),
    [("30 km/h", 29.17, 33.33), ("45 km/h", 43.75, 50.00), ("60 km/h", 58.33, 66.67)],
)
def test_oncoming_target_is_the_published_distance_from_the_collision_point(
    speed: str, at_3_5_s_m: float, at_4_0_s_m: float
) -> None:
    # C26: EN-FC v1.1, 1.2.1, SEEN (0.01 m; the document prints 66.66): 3.5 s for cars, 4.0 s for motorcycles.
    plan = left_turn(TURNS[1], speed)
    contact_m = plan.encounters["contact"].station_with_m
    left_m = [
        contact_m - plan.instants[name].movers["target"].station_m for name in ("car", "motorcycle")
    ]
    assert left_m == pytest.approx([at_3_5_s_m, at_4_0_s_m], abs=0.01)


@pytest.mark.parametrize(
    ("turn", "car_m", "motorcycle_m"),
    [
        (TURNS[0], 9.57, 10.66),
        (TURNS[1], 14.53, 16.39),
        (TURNS[2], 19.47, 22.02),
        (TURNS[3], 24.33, 27.60),
    ],
    ids=lambda one: getattr(one, "name", None),
)
def test_turning_car_is_about_the_published_way_from_the_collision_point(
    turn: Turn, car_m: float, motorcycle_m: float
) -> None:
    # C27: EN-FC v1.1, 1.2.1, SEEN. A LOOSE check: the exact figures depend on the shape of the car's front. They
    # hold within 0.20 m (car, 3.5 s before) and 0.50 m (motorcycle, 4.0 s before) of the way at speed.
    plan = left_turn(turn, "30 km/h")
    contact_m = plan.encounters["contact"].station_of_m
    way_m = {
        name: contact_m - then.movers["subject"].station_m for name, then in plan.instants.items()
    }
    assert way_m["car"] == pytest.approx(car_m, abs=0.20)
    assert way_m["motorcycle"] == pytest.approx(motorcycle_m, abs=0.50)
