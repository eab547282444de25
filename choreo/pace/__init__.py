"""The quickest speed along a path: what it allows where, and the ramps and holds that make the most of it.

Read in this order: records, caps (what the path allows), steady (acceleration may jump: the exact forward and backward
pass), built_up (jerk limits and tables over speed: chains of ramps), quickest (either, and the gentlest that takes as
long as asked), lowering (a programme's `drive`).
"""

from choreo.pace.caps import zones_of
from choreo.pace.lowering import with_drives
from choreo.pace.quickest import drive, drive_lasting
from choreo.pace.records import Drive, Leg, TooSlow, Zone, drive_of, lasts_s

__all__ = [
    "Drive",
    "Leg",
    "TooSlow",
    "Zone",
    "drive",
    "drive_lasting",
    "drive_of",
    "lasts_s",
    "with_drives",
    "zones_of",
]
