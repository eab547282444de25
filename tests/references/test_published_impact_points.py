"""Published impact points: per cent of the subject's width as a lateral offset, and where bodies do meet."""

from pathlib import Path

import numpy as np
import pytest

from choreo.geometry import body_corners
from choreo.problem import paths_by_mover
from choreo.scenario import Contact, loads
from tests.references.scenario_texts import CAR, FILE, LANE, TARGET, WALKER, planned


def standing_target(impact: str, offset_m: float) -> str:
    """A standing target beside the middle of the lane; impact: key of the wanted impact point."""
    return f"""\
choreo: 1
title: Standing target
paths:
{LANE}
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: 30 km/h}}
      - hold: {{settle: 1 s, until: contact}}
  target:
    stand: {{at: [500 m, {offset_m} m], heading: 0 deg}}
{TARGET}
encounters:
  contact: {{kind: contact, of: subject, with: target, {impact}}}
"""


def crossing_walker(percent: int) -> str:
    """A walker from the right."""
    return f"""\
choreo: 1
title: Crossing walker
paths:
{LANE}
  crossing: {{start: [500 m, -4 m], heading: 90 deg, pieces: [{{line: 10 m}}]}}
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: 30 km/h}}
      - hold: {{settle: 1 s, until: contact}}
  walker:
    path: crossing
{WALKER}
    programme:
      - ramp: {{to: 5 km/h, over: 1.5 m}}
      - hold: {{until: contact}}
encounters:
  contact: {{kind: contact, of: subject, with: walker, overlap: {percent} %}}
"""


def _impact_m(text: str) -> float:
    contact = loads(text, FILE, Path()).encounters["contact"]
    assert isinstance(contact, Contact)
    return contact.impact_m


# C35: EN-FC v1.1, 1.2.5, SEEN (1e-6 m), subject 1.8 m wide, left positive.
LOCATIONS = [
    (0, -0.90),
    (25, -0.45),
    (50, 0.0),
    (75, 0.45),
    (100, 0.90),
    (125, 1.35),
    (-25, -1.35),
]


@pytest.mark.parametrize(("percent", "offset_m"), LOCATIONS)
def test_impact_location_is_the_published_offset_and_the_bodies_meet_there(
    percent: int, offset_m: float
) -> None:
    # C35: EN-FC v1.1, 1.2.5, SEEN. The simulation finds by itself where the standing target is hit.
    text = standing_target(f"overlap: {percent} %", offset_m)
    assert _impact_m(text) == pytest.approx(offset_m, abs=1e-6)
    assert planned(text).encounters["contact"].predicted == pytest.approx(offset_m, abs=1e-6)


@pytest.mark.parametrize(("percent", "offset_m"), LOCATIONS[:5])
def test_walker_is_hit_at_the_published_offset(percent: int, offset_m: float) -> None:
    # C35: EN-FC v1.1, 1.2.5, SEEN: 0 to 100 %; the walker's place is a matter of timing.
    contact = planned(crossing_walker(percent)).encounters["contact"]
    assert contact.predicted == pytest.approx(offset_m, abs=1e-6)
    # The walker stands at x = 500 m and walks along y: where it is hit is its own reference line.
    assert contact.station_with_m - 4.0 == pytest.approx(offset_m, abs=1e-6)


@pytest.mark.parametrize("impact", ["offset: 0.45 m", "overlap: 75 %"])
def test_un_offset_ratio_of_50_percent_is_an_overlap_of_75_percent(impact: str) -> None:
    # C36: UN R152 Amend.4 and R131, Annex 3 appendix 2, SEEN: subject 1.8 m wide, shifted by 0.45 m: offset ratio
    # L / (0.5 W) 50 %, overlap ratio L / W 75 % (1e-6). The target is as wide, and what overlaps is measured between
    # the bodies as they stand at the contact.
    text = standing_target(impact, 0.45).replace("width: 1.70 m", "width: 1.80 m")
    scenario, plan = loads(text, FILE, Path()), planned(text)
    met = plan.encounters["contact"]
    across_m = {}
    for name, station_m in (("subject", met.station_of_m), ("target", met.station_with_m)):
        pose = paths_by_mover(scenario)[name].pose(np.array([station_m]))
        y_m = body_corners(scenario.movers[name].body.corners_m, pose)[0, :, 1]
        across_m[name] = (y_m.min(), y_m.max())
    (right, left), (targets_right, targets_left) = across_m["subject"], across_m["target"]
    width_m = left - right
    assert (min(left, targets_left) - max(right, targets_right)) / width_m == pytest.approx(0.75)
    offset_m = (targets_left + targets_right - left - right) / 2
    assert offset_m / (0.5 * width_m) == pytest.approx(0.50, abs=1e-6)
    # Where the front is hit: 75 % of its width from the right edge.
    assert (met.predicted - right) / width_m == pytest.approx(0.75, abs=1e-6)
