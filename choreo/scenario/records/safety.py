"""The margins that a run is judged by."""

from __future__ import annotations

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Safety:
    """Margins in m; the defaults are common practice without a source, save the position error.

    clearance_m: bodies that come nearer are warned of. abort_margin_m: by how much the intended contact must be
    avoided when a run is broken off. keep_out_m: added round everything that may be swept. path_error_m: movers
    beside their paths. position_error_m: EN-FC v1.1 (October 2025) 1.5.2 asks for 0.03 m.
    """

    clearance_m: float = 0.5
    abort_margin_m: float = 0.5
    keep_out_m: float = 10.0
    path_error_m: float = 0.15
    position_error_m: float = 0.03

    @property
    def error_m(self) -> float:
        """How far a body may be from where it is planned."""
        return self.path_error_m + self.position_error_m
