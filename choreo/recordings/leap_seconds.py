"""How far GPS time is ahead of UTC.

Source: from memory of IERS Bulletin C; 18 s since 1 January 2017, no leap second since. A file of other times is told
how much was taken.
"""

from __future__ import annotations

from datetime import UTC, datetime

# GPS time counts from here, where it was even with UTC.
GPS_EPOCH = datetime(1980, 1, 6, tzinfo=UTC)
# From when on GPS time is ahead by so many seconds; years before 1999 are nobody's recordings.
AHEAD_S = (
    (datetime(2017, 1, 1, tzinfo=UTC), 18.0),
    (datetime(2015, 7, 1, tzinfo=UTC), 17.0),
    (datetime(2012, 7, 1, tzinfo=UTC), 16.0),
    (datetime(2009, 1, 1, tzinfo=UTC), 15.0),
    (datetime(2006, 1, 1, tzinfo=UTC), 14.0),
    (datetime(1999, 1, 1, tzinfo=UTC), 13.0),
)


def gps_ahead_s(utc: datetime) -> float:
    """Give by how many seconds GPS time is ahead of UTC at a moment; of years before 1999 as in 1999."""
    return next((ahead for since, ahead in AHEAD_S if utc >= since), AHEAD_S[-1][1])
