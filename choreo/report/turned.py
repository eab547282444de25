"""Stations and speeds of what turns about a hinge, in degrees, as its author counts them."""

from __future__ import annotations

import math

from choreo.scenario import Scenario
from choreo.words.display import kmh, plain


def speed_words(scenario: Scenario, name: str, speed_mps: float) -> str:
    """Give a mover's speed: '40.00 km/h', of a door '60.0 deg/s'."""
    return speed_of(speed_mps, scenario.turning_radius_m(name))


def speed_of(speed_mps: float, hinge_m: float | None) -> str:
    """Give a speed; hinge_m: of a door, how far its reference point is from its hinge."""
    if hinge_m is None:
        return kmh(speed_mps)
    return f"{plain(math.degrees(speed_mps / hinge_m), 1)} deg/s"


def station_words(scenario: Scenario, name: str, station_m: float) -> str:
    """Give a mover's station for a column in m: '84.101', of a door '65.0 deg'."""
    radius_m = scenario.turning_radius_m(name)
    if radius_m is None:
        return plain(station_m)
    return f"{plain(math.degrees(station_m / radius_m), 1)} deg"


def rate_words(scenario: Scenario, name: str, rate_mps2: float) -> str:
    """Give a rate with its sign: '+3.00 m/s2', of a door '+200.0 deg/s2'."""
    radius_m = scenario.turning_radius_m(name)
    if radius_m is None:
        return f"{rate_mps2:+.2f} m/s2"
    return f"{math.degrees(rate_mps2 / radius_m):+.1f} deg/s2"
