"""Paths by arc length, bodies that follow them, and where two of them meet. Knows no time."""

from choreo.geometry.bodies import body_corners
from choreo.geometry.build import build_paths, standing_path
from choreo.geometry.curve import CurvePath
from choreo.geometry.poses import Path, Poses
from choreo.geometry.provisional import *  # helper's meeting.py replaces this

__all__ = [
    "CurvePath",
    "Path",
    "Poses",
    "body_corners",
    "build_paths",
    "standing_path",
]
