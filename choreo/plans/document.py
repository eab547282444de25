"""The plan as a JSON document and back: SI units in the names, the keys that other tools rely on."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from choreo.plans.record import PLAN_FORMAT, Plan
from choreo.words import ChoreoError, Finding
from choreo.words.display import CONTROL
from choreo.words.origin import Origin
from choreo.words.quantities import quoted

# Words of the document that Python keeps for itself.
RENAMED = {"with_": "with", "from_": "from"}
RESTORED = {word: name for name, word in RENAMED.items()}
# Records have these beside such a key; names that an author chose (a mover called `from`) are left alone.
BESIDE = {"with": "kind", "from": "share"}


def to_document(plan: Plan) -> dict[str, Any]:
    """Give the plan as plain dicts, lists, text and finite numbers (an open end becomes null)."""
    document = plain_data(plan)
    if not isinstance(document, dict):
        raise AssertionError("a plan is a record")
    return document


def to_text(plan: Plan, *, indent: int | None = 2) -> str:
    """Give the plan as JSON with a final newline, indented or (None) in one line."""
    if indent is None:
        try:  # as it is written many times over
            return json.dumps(plan, default=_shallow, allow_nan=False) + "\n"
        except ValueError:  # an open end
            pass
    return json.dumps(to_document(plan), indent=indent, allow_nan=False) + "\n"


def plain_data(value: Any) -> Any:
    """Give records as plain dicts, lists, text and finite numbers; what is infinite or none becomes null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {key: plain_data(held) for key, held in _shallow(value).items()}
    if isinstance(value, dict):
        return {key: plain_data(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain_data(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _shallow(record: Any) -> dict[str, Any]:
    """A record's fields by their words in the document, what they hold as it is."""
    return {word: getattr(record, name) for name, word in _words(record.__class__)}


@cache
def _words(kind: Any) -> tuple[tuple[str, str], ...]:
    return tuple((part.name, RENAMED.get(part.name, part.name)) for part in fields(kind))


@cache
def _reading() -> TypeAdapter[Plan]:
    """What reads a plan: made when the first one is read, since making it takes longer than reading."""
    return TypeAdapter(Plan)


def from_text(text: str, file: str) -> Plan:
    """Read a plan document.

    Raises ChoreoError: plan.broken with the first key that doesn't fit, plan.other-format.
    """
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", 1)
        column = getattr(error, "colno", 1)
        raise _broken(Origin(file, line, column), "it is not JSON") from None
    place = Origin(file, 1, 1)
    if not isinstance(document, dict) or document.get("format") != PLAN_FORMAT:
        raise ChoreoError(
            (Finding("plan.other-format", "error", place, {"wanted": PLAN_FORMAT}, ()),)
        )
    for word in _texts(document):
        if CONTROL.search(word) is not None:
            raise _broken(place, f"`{quoted(word)}` holds a control character")
    try:
        return _reading().validate_python(_restored(document), strict=False)
    except RecursionError:
        raise _broken(place, "it is nested too deeply") from None
    except ValidationError as error:
        first = error.errors()[0]
        where = " > ".join(quoted(str(key)) for key in first["loc"])
        if first["type"] == "literal_error":
            raise _broken(place, f"`{where}` is none of {first['ctx']['expected']}") from None
        raise _broken(place, f"`{where}` is missing or of the wrong kind") from None


def _texts(document: Any) -> Iterator[str]:
    """Give every text of a document, keys too."""
    rest = [document]
    while rest:
        value = rest.pop()
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            yield from value
            rest += value.values()
        elif isinstance(value, list):
            rest += value


def _restored(value: Any) -> Any:
    if isinstance(value, dict):
        return {
            RESTORED[key] if BESIDE.get(key) in value else key: _restored(item)
            for key, item in value.items()
        }
    if isinstance(value, list):
        return tuple(_restored(item) for item in value)
    return value


def _broken(place: Origin, why: str) -> ChoreoError:
    return ChoreoError((Finding("plan.broken", "error", place, {"why": why}, ()),))
