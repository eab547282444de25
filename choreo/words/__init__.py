"""What every layer shares: places in files, findings and their catalogue, quantities, tolerances."""

from choreo.words.catalogue import CATALOGUE, Entry
from choreo.words.findings import ChoreoError, Finding, errors_of, remarks_of
from choreo.words.origin import Origin

__all__ = ["CATALOGUE", "ChoreoError", "Entry", "Finding", "Origin", "errors_of", "remarks_of"]
