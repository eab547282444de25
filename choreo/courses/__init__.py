"""Courses laid out from standards and from formulas: gates, cones, lanes, and what driving them asks for."""

from choreo.courses.names import ANYWHERE, COURSES, lay_out
from choreo.courses.record import (
    LINE_APPROACH_M,
    Cone,
    Course,
    CourseFault,
    Driven,
    Lane,
    Layout,
    Leg,
    Sizes,
    Steered,
)

__all__ = [
    "ANYWHERE",
    "COURSES",
    "LINE_APPROACH_M",
    "Cone",
    "Course",
    "CourseFault",
    "Driven",
    "Lane",
    "Layout",
    "Leg",
    "Sizes",
    "Steered",
    "lay_out",
]
