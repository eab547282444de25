"""Which `without` leaves out the variants whose values make no scenario."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from choreo.campaigns.records import Row

Values = Mapping[str, str]


def without_of(rows: Sequence[Row]) -> list[Values]:
    """Give exclusions that leave out the faulty ones of a run's rows and no other: single values where these do."""
    faulty = [row.values for row in rows if row.verdict is None]
    sound = [row.values for row in rows if row.verdict is not None]
    found: list[Values] = []
    for values in faulty:
        if any(one.items() <= values.items() for one in found):
            continue
        found.append(next(one for one in _parts(values) if not _any_has(sound, one)))
    return found


def _parts(values: Values) -> list[Values]:
    """Each value alone, each two of them, and all."""
    pairs = list(values.items())
    alone: list[Values] = [dict([one]) for one in pairs]
    two = [dict([one, other]) for number, one in enumerate(pairs) for other in pairs[number + 1 :]]
    return [*alone, *two, values]


def _any_has(rows: Sequence[Values], part: Values) -> bool:
    return any(part.items() <= one.items() for one in rows)


def written(exclusions: Sequence[Values], most: int = 4) -> str:
    """Write exclusions as a campaign file has them."""
    told = [
        "{" + ", ".join(f"{name}: {text}" for name, text in one.items()) + "}" for one in exclusions
    ]
    more = f" and {len(told) - most} more" if len(told) > most else ""
    return f"`without: [{', '.join(told[:most])}]`{more}"
