"""Plans as plain records: what every mover does and when, and the document that holds it."""

from choreo.plans.document import from_text, to_document, to_text
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.record import Plan

__all__ = ["Plan", "fingerprint_of", "from_text", "to_document", "to_text"]
