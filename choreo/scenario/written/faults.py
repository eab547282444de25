"""Model errors in our own words, with place and the nearest known key."""

from __future__ import annotations

from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from choreo.scenario.text.document import MOST_FAULTS, Document, Keys
from choreo.scenario.written.shorthand import (
    GUIDE,
    block_for,
    braking_instead,
    error_placed,
    list_for,
    phase_meant,
    phase_named,
    rejoined,
    torn,
)
from choreo.words import Finding, errors_of
from choreo.words.kinds import ENCOUNTER_KINDS
from choreo.words.nearest import nearest_word, suggestion
from choreo.words.quantities import quoted

Model = TypeVar("Model", bound=BaseModel)

# Errors of one file that are put in words: more than are reported, since some of them come out alike.
MOST_ERRORS = 2 * MOST_FAULTS

# Parts of a file whose entries stand for themselves: a faulty one is left out, the others are checked.
SECTIONS = (
    "values",
    "vary",
    "together",
    "paths",
    "movers",
    "triggers",
    "encounters",
    "instants",
    "sights",
    "areas",
    "obstacles",
    "runs",
)
# For checking the rest of a file in which these can't be used; never seen by a caller.
PLACEHOLDERS: dict[str, Any] = {
    "choreo": "1",
    "choreo fleet": "1",
    "choreo site": "1",
    "title": "?",
    "movers": {},
    "choreo campaign": "1",
    "choreo circuit": "1",
    "choreo share": "1",
    "runs": {},
}

SHAPES = {
    "model_type": "a block of keys",
    "model_attributes_type": "a block of keys",
    "dict_type": "a block of keys",
    "tuple_type": "a list",
    "string_type": "a single value",
    "missing": "a pair `[.., ..]`",
    "too_long": "a pair `[.., ..]`",
}


def validated(document: Document, model: type[Model], findings: list[Finding]) -> Model | None:
    """Validate a file; with faults, give what is left without the faulty entries, for other checks.

    findings: faults are added here.
    """
    try:
        return model.model_validate(document.data)
    except ValidationError as error:
        findings += findings_of(error, document, model)
        rest = without_faulty(document.data, error, model)
    try:
        return model.model_validate(rest)
    except ValidationError:
        return None


def in_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """Errors only, each once, in the order of the file; beyond a hundred only that there are more."""

    def order(one: Finding) -> tuple[str, int, int]:
        return (
            ("", 0, 0)
            if one.origin is None
            else (one.origin.file, one.origin.line, one.origin.column)
        )

    unique = {(one.code, order(one), str(one.values)): one for one in errors_of(findings)}
    ordered = sorted(unique.values(), key=order)
    if len(ordered) <= MOST_FAULTS:
        return tuple(ordered)
    last = Finding("input.more-faults", "error", ordered[MOST_FAULTS].origin, {}, ())
    return (*ordered[:MOST_FAULTS], last)


def findings_of(
    error: ValidationError, document: Document, model: type[BaseModel]
) -> list[Finding]:
    """Turn every model error into a finding of ours, at its place in the file."""
    errors = error.errors(include_url=False)[:MOST_ERRORS]
    return [
        _finding(one, document, model)
        for one in errors
        if not (one["type"] == "quantity" and torn(_keys(one["loc"]), document.data))
    ]


def without_faulty(
    data: dict[str, Any], error: ValidationError, model: type[BaseModel]
) -> dict[str, Any]:
    """A file's data without the entries that have faults."""
    rest = {key: dict(one) if isinstance(one, dict) else one for key, one in data.items()}
    for one in error.errors(include_url=False, include_context=False, include_input=False):
        top, *below = one["loc"] or ("",)
        entries = rest.get(str(top))
        if top in SECTIONS and below and isinstance(entries, dict):
            entries.pop(below[0], None)
        else:
            rest.pop(str(top), None)
    names = {field.alias or name for name, field in model.model_fields.items()}
    return {key: one for key, one in PLACEHOLDERS.items() if key in names} | rest


def _finding(one: Any, document: Document, model: type[BaseModel]) -> Finding:
    keys = _keys(one["loc"])
    kind, context = one["type"], one.get("ctx", {})
    place = document.origin(keys)
    where = _where(keys)
    if kind == "extra_forbidden":
        place = document.key_origin(keys)
        known = _known_keys(model, one["loc"][:-1])
        block = _block(keys[:-1], document.data)
        values = {
            "key": quoted(str(keys[-1])),
            "where": _where(keys[:-1]),
            "suggestion": rejoined(str(keys[-1]), block)
            or phase_named(keys, block)
            or error_placed(keys)
            or phase_meant(keys)
            or suggestion(str(keys[-1]), known),
        }
        return Finding("scenario.unknown-key", "error", place, values, ())
    if kind == "missing" and keys and isinstance(keys[-1], str):
        values = {"key": str(keys[-1]), "where": _where(keys[:-1])}
        return Finding("scenario.missing-key", "error", document.origin(keys[:-1]), values, ())
    if kind == "quantity":
        instead = braking_instead(keys, one.get("input")) or context["instead"]
        values = {"where": where, "what": context["what"], "instead": instead}
        return Finding("scenario.bad-value", "error", place, values, ())
    if kind in ("literal_error", "union_tag_invalid", "enum"):
        wanted = str(context.get("expected", context.get("expected_tags", "")))
        wanted = wanted.replace("'", "`").replace(" or ", ", ")
        if keys == ("prefer",):
            wanted += ", `highest NAME`, `lowest NAME`"
        if kind == "union_tag_invalid":
            place = document.origin((*keys, "kind"))
        written = context.get("tag", "") if kind == "union_tag_invalid" else one.get("input")
        if not isinstance(written, str):
            return Finding(
                "scenario.bad-shape",
                "error",
                place,
                {"where": where, "wanted": f"one of {wanted}", "instead": GUIDE},
                (),
            )
        advice = did_you_mean(written, wanted.replace("`", "").split(", "))
        values = {"where": where, "written": quoted(written), "known": wanted, "suggestion": advice}
        return Finding("scenario.bad-choice", "error", place, values, ())
    if kind == "union_tag_not_found":
        values = {"key": "kind", "where": _where(keys)}
        return Finding("scenario.missing-key", "error", place, values, ())
    if kind == "string_pattern_mismatch":
        place = document.key_origin(keys) if one["loc"][-1] == "[key]" else place
        return Finding("scenario.bad-name", "error", place, {"name": quoted(str(one["input"]))}, ())
    wanted = SHAPES.get(kind, "something else")
    if keys and isinstance(keys[-1], int) and kind in ("missing", "too_long"):
        where, place = _where(keys[:-1]), document.origin(keys[:-1])
    instead = GUIDE
    if wanted == "a block of keys":
        instead = block_for(keys, one.get("input"))
    elif wanted == "a list":
        instead = list_for(keys, one.get("input"))
    values = {"where": where, "wanted": wanted, "instead": instead}
    return Finding("scenario.bad-shape", "error", place, values, ())


def _block(keys: Keys, data: Any) -> dict[str, Any]:
    """The block at a place of a file's data; an empty one where there is none."""
    for key in keys:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return {}
    return data if isinstance(data, dict) else {}


def did_you_mean(written: str, known: list[str]) -> str:
    """Give ` Did you mean ...?` for a misspelt choice, or nothing."""
    nearest = nearest_word(written, known)
    return "" if nearest is None else f" Did you mean `{nearest}`?"


def _keys(loc: tuple[Any, ...]) -> Keys:
    """pydantic's place without its own additions: a union's tag, the mark of a dictionary's key."""
    keys = list(loc)
    if len(keys) > 2 and keys[0] == "encounters" and keys[2] in ENCOUNTER_KINDS:
        del keys[2]
    return tuple(key for key in keys if key != "[key]")


def _where(keys: Keys) -> str:
    """A place in words: list entries count from 1, as people do."""
    words = (f"no. {key + 1}" if isinstance(key, int) else quoted(key) for key in keys)
    return " > ".join(words) or "the file"


def _known_keys(model: type[BaseModel], loc: tuple[Any, ...]) -> list[str]:
    """The keys that the model at a place knows, found by walking the model's own fields."""
    current: Any = model
    for key in loc:
        if isinstance(current, type) and issubclass(current, BaseModel):
            current = next(
                (f.annotation for n, f in current.model_fields.items() if (f.alias or n) == key),
                None,
            )
        else:
            current = _inside(current, key)
        current = _unwrapped(current, key)
    if isinstance(current, type) and issubclass(current, BaseModel):
        return [field.alias or name for name, field in current.model_fields.items()]
    return []


def _unwrapped(annotation: Any, key: Any) -> Any:
    """Drop `| None` and Annotated."""
    while annotation is not None and not isinstance(annotation, type):
        arguments = [a for a in get_args(annotation) if a is not type(None)]
        models = [a for a in arguments if isinstance(a, type) and issubclass(a, BaseModel)]
        origin = getattr(annotation, "__origin__", None)
        if origin in (dict, tuple):
            return annotation
        if len(models) == 1 and len(arguments) == 1:
            return models[0]
        if not arguments or isinstance(key, dict):
            return annotation
        if len(models) > 1:
            return annotation
        annotation = arguments[0]
    return annotation


def _inside(annotation: Any, key: Any) -> Any:
    """The type of a dictionary's values, a list's items, or the union member whose kind is the key."""
    arguments = get_args(annotation)
    if getattr(annotation, "__origin__", None) is dict:
        return arguments[1]
    for member in arguments:
        kind = getattr(member, "model_fields", {}).get("kind")
        if kind is not None and key in get_args(kind.annotation):
            return member
    return arguments[0] if arguments else None
