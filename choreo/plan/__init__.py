"""The Plan record: what every mover does and when; saved, loaded, fingerprinted."""

from choreo.plan.document import from_text, to_document, to_text
from choreo.plan.fingerprint import fingerprint_of
from choreo.plan.record import Plan
from choreo.plan.store import (
    is_standard_output,
    load_plan,
    refuse_inputs,
    save_plan,
    write_all,
    write_whole,
)

__all__ = [
    "Plan",
    "fingerprint_of",
    "from_text",
    "is_standard_output",
    "load_plan",
    "refuse_inputs",
    "save_plan",
    "to_document",
    "to_text",
    "write_all",
    "write_whole",
]
