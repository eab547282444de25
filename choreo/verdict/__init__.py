"""The whole way from a scenario to an answer: solve, verify, and the verdict they allow."""

from choreo.plan.message import messages_of
from choreo.verdict.answer import answer
from choreo.verdict.staged import StagedCheck, check_staged
from choreo.verdict.whole import Prepared, Whole, check_room, planned, prepare, whole_answer

__all__ = [
    "Prepared",
    "StagedCheck",
    "Whole",
    "answer",
    "check_room",
    "check_staged",
    "messages_of",
    "planned",
    "prepare",
    "whole_answer",
]
