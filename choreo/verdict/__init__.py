"""The whole way from a scenario to an answer: solve, verify, and the verdict they allow."""

from choreo.verdict.answer import answer, messages_of

__all__ = ["answer", "messages_of"]
