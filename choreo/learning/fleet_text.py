"""Learnt errors as lines of a fleet file: put into an entry of its text, with every comment of its author kept."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

from choreo.learning.learnt import Learnt
from choreo.learning.wander import Wander, WanderOf
from choreo.report.effects import small
from choreo.scenario.text.document import Document, parse_document, read_text
from choreo.scenario.written.faults import in_order, validated
from choreo.scenario.written.scenario import FleetWritten
from choreo.words import ChoreoError, Finding, Origin, errors_of
from choreo.words.display import plain
from choreo.words.kinds import Unit
from choreo.words.quantities import quoted

# Keys under `errors`; those with a dot are inside a block.
KEYS: Mapping[str, tuple[str, ...]] = {
    "speed held": ("speed held",),
    "start along": ("start mark", "along"),
    "start beside": ("start mark", "beside"),
    "path offset": ("path", "offset"),
    "achieved acceleration": ("achieved acceleration",),
    "achieved braking": ("achieved braking",),
    "launch": ("launch",),
}
WANDER_KEYS: Mapping[WanderOf, tuple[str, ...]] = {
    "speed wander": ("speed wander",),
    "path wander": ("path", "wander"),
}
# As the guide lists them.
ORDER = (
    ("speed held",),
    ("speed wander",),
    ("start mark", "along"),
    ("start mark", "beside"),
    ("path", "offset"),
    ("path", "wander"),
    ("achieved acceleration",),
    ("achieved braking",),
    ("launch",),
)
# Lines of a fleet file are no longer.
COLUMNS = 100
# What a file has as a delay: late or on time, on average.
NEVER_EARLY = frozenset({"launch", "latency"})


def written(one: Learnt) -> str:
    """Give a source as a file has it: `-0.012 km/h +/- 0.100 km/h`, `0 m +/- 0.0018 m`.

    Raises ValueError: it has no spread.
    """
    if one.spread is None:
        raise ValueError(f"{one.aspect} of {one.owner} has no spread")
    mean = max(one.found.mean, 0.0) if one.aspect in NEVER_EARLY else one.found.mean
    number = _number(mean, one.unit)
    digits, _, unit = number.partition(" ")
    return f"{number if float(digits) else f'0 {unit}'} +/- {_number(one.spread, one.unit)}"


def _number(value: float, unit: Unit | None) -> str:
    if unit is None:
        return f"{plain(100.0 * value, 2)} %"
    if unit == "m/s":
        return f"{plain(3.6 * value)} km/h"
    if unit == "s":
        return f"{plain(1000.0 * value, 1)} ms"
    return f"{plain(value, 4)} {unit}"


def comment(one: Learnt, about: str) -> str:
    """Give where a figure comes from."""
    words = f"{one.found.count} {about}"
    if one.found.mean < 0.0 and one.aspect in NEVER_EARLY:
        words += f", {small(-one.found.mean, one.unit)} early on average, and a delay is none"
    if one.found.mean_half is not None:
        words += f", mean +/- {small(one.found.mean_half, one.unit)}"
    if one.spread_low is not None and one.spread_high is not None:
        words += f", spread {small(one.spread_low, one.unit)} to {small(one.spread_high, one.unit)}"
    return f"{words} (95 %)"


def wandering(one: Wander) -> str:
    """Give what wanders as a file has it: `{size: 0.120 km/h, over: 2.1 s}`."""
    if one.what == "speed wander":
        return f"{{size: {_number(one.size, 'm/s')}, over: {one.over:.2g} s}}"
    return f"{{size: {_number(one.size, 'm')}, over: {one.over:.2g} m}}"


def _about_wander(one: Wander, about: str) -> str:
    unit: Unit = "m/s" if one.what == "speed wander" else "m"
    beyond = "and more" if one.over_high is None else f"to {one.over_high:.2g}"
    return (
        f"{one.count} {about}, size {small(one.size_low, unit)} to {small(one.size_high, unit)}, "
        f"over {one.over_low:.2g} {beyond} (95 %)"
    )


def errors_lines(
    found: Sequence[Learnt], about: str, indent: str = "", wanders: Sequence[Wander] = ()
) -> list[str]:
    """Give the `errors` block of one mover, a line a source with its comment; none where nothing has a spread."""
    entries = {
        KEYS[one.aspect]: f"{written(one)}  # {comment(one, about)}"
        for one in found
        if one.spread is not None and one.aspect in KEYS
    }
    for two in wanders:
        entries[WANDER_KEYS[two.what]] = f"{wandering(two)}  # {_about_wander(two, about)}"
    lines: list[str] = []
    block = ""
    for keys in ORDER:
        if keys not in entries:
            continue
        *outer, key = keys
        if outer and outer[0] != block:
            lines.append(f"{indent}  {outer[0]}:")
        block = outer[0] if outer else ""
        inner = f"{indent}    " if outer else f"{indent}  "
        lines.append(f"{inner}{key}: {entries[keys]}")
    return [f"{indent}errors:", *lines] if lines else []


def pasteable(lines: Sequence[str], columns: int) -> list[str]:
    """Give lines of a scenario laid out for so many columns, valid YAML still: each comment is put on lines of its own
    above what it is about, and a value goes on further in than its key.
    """
    laid: list[str] = []
    for line in lines:
        value, _, about = line.partition("  # ")
        indent = " " * (len(value) - len(value.lstrip()))
        if about:
            hashes = f"{indent}# "
            laid += textwrap.wrap(about, columns, initial_indent=hashes, subsequent_indent=hashes)
        laid += textwrap.wrap(
            value,
            columns,
            subsequent_indent=f"{indent}  ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    return laid


def with_errors(
    path: Path,
    entries: Mapping[str, Sequence[Learnt]],
    about: str,
    wanders: Mapping[str, Sequence[Wander]] | None = None,
) -> str:
    """Give a fleet file's text with the errors of some entries exchanged. wanders: by entry too.

    Raises ChoreoError: faults of the file; recording.unfit: an entry isn't there, or stands on one line.
    """
    text = read_text(path)
    for name, found in entries.items():
        document = parse_document(text, str(path))
        lines_at = partial(errors_lines, found, about, wanders=(wanders or {}).get(name, ()))
        text = _with_entry(document, text.splitlines(), name, lines_at)
    document = parse_document(text, str(path))
    findings = list(document.findings)
    validated(document, FleetWritten, findings)
    if errors_of(findings):
        raise ChoreoError(in_order(findings))
    return text


def _with_entry(
    document: Document, lines: list[str], name: str, lines_at: Callable[[str], list[str]]
) -> str:
    movers = document.data.get("movers", {})
    entry = movers.get(name) if isinstance(movers, dict) else None
    place = document.key_places.get(("movers", name))
    if place is None or not isinstance(entry, dict) or not entry:
        raise _unfit(
            document.file,
            1,
            f"the fleet file has no entry `{quoted(name)}`",
            "Name the fleet file whose entries the scenario's movers are `like`.",
        )
    first = document.key_places[("movers", name, next(iter(entry)))]
    if first.line == place.line:
        raise _unfit(
            document.file,
            place.line,
            f"the entry `{quoted(name)}` stands on one line",
            "Write each of its keys on a line of its own.",
        )
    indent = " " * (first.column - 1)
    if "errors" in entry:
        begin = document.key_places[("movers", name, "errors")].line - 1
        end = begin + 1
        while end < len(lines) and _deeper(lines[end], len(indent)):
            end += 1
        while end > begin + 1 and not lines[end - 1].strip():
            end -= 1
    else:
        begin = end = first.line - 1
    block = pasteable(lines_at(indent), COLUMNS)
    return "\n".join([*lines[:begin], *block, *lines[end:]]) + "\n"


def _deeper(line: str, indent: int) -> bool:
    """Whether a line belongs to the block of a key that stands at an indent; a comment as deep as that doesn't."""
    return not line.strip() or len(line) - len(line.lstrip()) > indent


def _unfit(file: str, line: int, why: str, instead: str) -> ChoreoError:
    values = {"why": why, "instead": instead}
    return ChoreoError([Finding("recording.unfit", "error", Origin(file, line, 1), values)])
