"""The whole way from a scenario to an answer: solve, verify, and the verdict they allow."""

from choreo.verdict.answer import answer, messages_of
from choreo.verdict.staged import StagedCheck, check_staged

__all__ = ["StagedCheck", "answer", "check_staged", "messages_of"]
