"""Courses laid out from standards and from formulas: gates, cones, lanes, and what driving them asks for."""

from choreo.courses.names import ANYWHERE, CHOICES, COURSES, lay_out
from choreo.courses.record import (
    LINE_APPROACH_M,
    Cone,
    Course,
    CourseFault,
    Driven,
    Lane,
    Layout,
    Piece,
    Sizes,
    Steered,
)

__all__ = [
    "ANYWHERE",
    "CHOICES",
    "COURSES",
    "LINE_APPROACH_M",
    "Cone",
    "Course",
    "CourseFault",
    "Driven",
    "Lane",
    "Layout",
    "Piece",
    "Sizes",
    "Steered",
    "lay_out",
]
