"""A case: a scenario with all that is worked out of it once, its answer and the verdict that holds."""

from choreo.case.answering import answer, patience_of
from choreo.case.answers import Answer, Progress
from choreo.case.by_rows import linear_answer
from choreo.case.collided import glance_at_run
from choreo.case.glances import Glance, glance, may_work, start_range_of
from choreo.case.proving import impossible
from choreo.case.quantity import Quantity
from choreo.case.record import Case, case_at, case_of, case_on
from choreo.case.whole import (
    answer_with_sights,
    check_room,
    sights_in,
    survey,
    whole_answer,
    with_sights_of,
)

__all__ = [
    "Answer",
    "Case",
    "Glance",
    "Progress",
    "Quantity",
    "answer",
    "answer_with_sights",
    "case_at",
    "case_of",
    "case_on",
    "check_room",
    "glance",
    "glance_at_run",
    "impossible",
    "linear_answer",
    "may_work",
    "patience_of",
    "sights_in",
    "start_range_of",
    "survey",
    "whole_answer",
    "with_sights_of",
]
