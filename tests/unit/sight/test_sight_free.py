"""Which places of a standing thing are free over the whole run, and which of two contacts a sight counts down to."""

from dataclasses import replace

import numpy as np
import pytest

from choreo.geometry import Poses
from choreo.sight.free import free_at
from choreo.sight.lines import sights_of
from tests.unit.sight.sight_runs import CONTACT_S, TIMES, pose_of, scenario

# The van stands at x = 95 m, y = -3 m, 5.6 m by 2 m, heading along x.
SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


def rolls_over_the_belt(name: str, times_s: np.ndarray) -> Poses:
    """The run by hand, but the child goes on after the contact and turns off along y = -3 m, towards +x.

    It is at x = 100 m at the contact and at x = 110 m five seconds later.
    """
    if name != "child":
        return pose_of(name, times_s)
    after_s = np.maximum(times_s - CONTACT_S, 0.0)
    before = pose_of(name, np.minimum(times_s, CONTACT_S))
    x_m = before.x_m + 2.0 * after_s
    y_m = np.where(after_s > 0.0, -3.0, before.y_m)
    return Poses(x_m, y_m, before.heading_rad, before.curvature_per_m)


def test_place_where_somebody_drives_through_after_the_contact_is_not_free() -> None:
    whole = scenario()
    free = free_at(whole, "van", rolls_over_the_belt, CONTACT_S)
    stands = free_at(whole, "van", pose_of, CONTACT_S)
    # Moved by 13 m it stands from x = 105.2 to 110.8 m.
    assert stands(13.0)
    assert not free(13.0)
    # Behind where the child turns off, both are free.
    assert stands(0.0)
    assert free(0.0)


def test_place_on_a_site_obstacle_is_not_free() -> None:
    hut = SQUARE * 2 + [80.0, -4.0]
    assert free_at(scenario(), "van", pose_of, CONTACT_S)(-15.0)
    free = free_at(scenario(), "van", pose_of, CONTACT_S, (hut,))
    assert not free(-15.0)
    assert free(-8.0)


def test_site_obstacle_that_hides_as_well_is_counted_while_a_thing_is_moved() -> None:
    # The van would stand free behind the wall, but the wall's end hides the child's middle until y = -1.4 m x 1.07,
    # 0.75 s before the contact.
    alone = scenario(wanted_s=1.5, tolerance_s=0.05, moving="van")
    (plan,) = sights_of(alone, pose_of, TIMES)
    assert plan.within is True
    wall = np.array([(60.0, -1.5), (99.5, -1.5), (99.5, -1.4), (60.0, -1.4)])
    (walled,) = sights_of(alone, pose_of, TIMES, (wall,))
    assert walled.within is False
    assert walled.move_m is None


def test_time_left_counts_down_to_the_first_contact_of_the_two() -> None:
    whole = scenario()
    encounters = {**whole.encounters, "again": whole.encounters["contact"]}
    twice = replace(whole, encounters=encounters)
    (once,) = sights_of(whole, pose_of, TIMES)
    (plan,) = sights_of(twice, pose_of, {**TIMES, "again": CONTACT_S + 2.0})
    assert once.to_collision_s is not None
    assert plan.to_collision_s == pytest.approx(once.to_collision_s)
