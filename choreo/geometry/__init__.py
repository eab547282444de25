"""Paths by arc length, bodies that follow them, and where two of them meet. Knows no time."""

from choreo.geometry.banks import bank_at, banks_of, counted_per_m, felt_mps2
from choreo.geometry.bodies import body_corners
from choreo.geometry.build import build_paths, standing_path
from choreo.geometry.crossing import crossing_point, crossing_points
from choreo.geometry.curve import CurvePath
from choreo.geometry.cusps import cusps_of, last_leg_m, motion_headings, ways_along
from choreo.geometry.gap import GapTrack, gap_track
from choreo.geometry.loop import lap_of
from choreo.geometry.meeting import (
    Meeting,
    MeetingPoint,
    MeetingTrack,
    NearestOverlap,
    find_contact,
    nearest_overlap,
)
from choreo.geometry.poses import Path, Pose, PosedInArrays, Poses
from choreo.geometry.zone import ConflictZone, conflict_zone

__all__ = [
    "ConflictZone",
    "CurvePath",
    "GapTrack",
    "Meeting",
    "MeetingPoint",
    "MeetingTrack",
    "NearestOverlap",
    "Path",
    "Pose",
    "PosedInArrays",
    "Poses",
    "bank_at",
    "banks_of",
    "body_corners",
    "build_paths",
    "conflict_zone",
    "counted_per_m",
    "crossing_point",
    "crossing_points",
    "cusps_of",
    "felt_mps2",
    "find_contact",
    "gap_track",
    "lap_of",
    "last_leg_m",
    "motion_headings",
    "nearest_overlap",
    "standing_path",
    "ways_along",
]
