"""Where the entries of a JSON text stand, so that messages can point into it."""

from __future__ import annotations

import json
import re
from bisect import bisect_right
from typing import Any

from choreo.scenario.text.document import Document, Keys
from choreo.words import ChoreoError, Finding, Origin

TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[{}\[\],:]|[^\s{}\[\],:"]+')
# Deep enough for every position of a collection of polygons; single numbers need no place.
DEEPEST = 8


def parse_json(text: str, file: str, what: str) -> Document:
    """Give the data of a JSON text and the place of each of its entries.

    Raises ChoreoError: site.bad-geojson where it is not JSON.
    """
    line, column = 1, 1
    try:
        data = json.loads(text, parse_constant=_refused)
    except json.JSONDecodeError as error:
        line, column = error.lineno, error.colno
    except (ValueError, RecursionError):
        pass  # a number of absurd length, NaN, or brackets without end
    else:
        return Document(file, data, _places(text, file))
    values = {
        "what": what,
        "why": "it is not JSON",
        "instead": "Export it again as GeoJSON (RFC 7946).",
    }
    raise ChoreoError([Finding("site.bad-geojson", "error", Origin(file, line, column), values)])


def _refused(constant: str) -> Any:
    raise ValueError(constant)


def _places(text: str, file: str) -> dict[Keys, Origin]:
    """Places by keys, of a text that is known to be JSON."""
    starts = [0, *(match.end() for match in re.finditer("\n", text))]
    places: dict[Keys, Origin] = {}
    path: list[str | int] = []
    key_next = False
    for match in TOKEN.finditer(text):
        token, begin = match[0], match.start()
        if token in "]}":
            path.pop()
            key_next = False
        elif token == ",":
            last = path[-1]
            key_next = not isinstance(last, int)
            if isinstance(last, int):
                path[-1] = last + 1
        elif token == ":":
            key_next = False
        elif key_next:
            path[-1] = str(json.loads(token))
        else:
            if len(path) <= DEEPEST:
                row = bisect_right(starts, begin)
                places[tuple(path)] = Origin(file, row, begin - starts[row - 1] + 1)
            if token in "[{":
                path.append(0 if token == "[" else "")
                key_next = token == "{"
    return places
