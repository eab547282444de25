"""Tables as text in their many shapes: comments and lines above the header, a units row, commas or points, blanks.

What is not said is found out and told: delimiter, decimal sign, where the header is. A row that doesn't fit is a fault
with its line; nothing is skipped.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import numpy as np

from choreo.recordings.channels import Channels, name_and_unit, twice, unreadable
from choreo.recordings.columns import MARK
from choreo.recordings.record import Floats, Remark
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted
from choreo.words.records import dataclass
from choreo.words.units import SPELLINGS, UNITS

# Ten minutes of a hundred channels at 100 Hz take 60 MB.
MOST_BYTES = 1_000_000_000
# Lines above the header that are looked through for it, and rows of which the delimiter is read off.
MOST_ABOVE, LOOKED_AT = 200, 50
# Rows that are split at once: more cost memory, not time.
CHUNK = 4000
COMMENTS = ("#", "//", "%")
# Commas come last: they are decimal signs too.
DELIMITERS = ((";", "semicolon"), ("\t", "tab"), ("|", "bar"), (",", "comma"), (" ", "blank"))
NUMBER_WITH_COMMA = re.compile(r"\s*[-+]?\d*,\d+(?:[eE][-+]?\d+)?\s*")
NUMBER_WITH_POINT = re.compile(r"\s*[-+]?\d*\.\d+(?:[eE][-+]?\d+)?\s*")
BY_NUMBER = re.compile(r"column ([1-9][0-9]*)")
# A number, a time of day or a date; the latter two; how a units row says that these follow (`hh:mm:ss.000`).
VALUE = re.compile(r"[-+]?[.,]?\d[\d.,:TZeE+ -]*")
WRITTEN_OUT = re.compile(r"\d+[:-]\d+[:-]\d")
FORM_OF_TIME = re.compile(r"[ymdhsftz0.,: -]+:[ymdhsftz0.,: -]+", re.IGNORECASE)
# How cells without a value are written.
EMPTY = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--", "#n/a", "inf", "-inf"})
# What a units row has besides the units that a scenario may use.
OTHER_UNITS = frozenset({"", "-", "1", "utc", "gps", "none", "us", "ns", "v", "n", "bool"})


@dataclass(frozen=True)
class _Shape:
    """How a file is laid out. names, units: by column; header, first: the index of its header (0 without one), of its
    first line of data."""

    delimiter: str
    comma: bool
    quoted: bool
    names: tuple[str, ...]
    units: tuple[str | None, ...]
    header: int
    first: int
    remarks: tuple[Remark, ...]


def read_table(
    file: str,
    raw: bytes,
    wanted: Iterable[str],
    delimiter: str | None = None,
    decimal: str | None = None,
) -> Channels:
    """Read the wanted channels of a text file's bytes; those that it doesn't have are left out.

    delimiter, decimal: as somebody says; None: found out. Raises ChoreoError: no table, or a cell that is no number.
    """
    lines, simulated, encoding = _lines(file, raw)
    asked = tuple(dict.fromkeys(wanted))
    shape = _shape(file, lines, asked, delimiter, decimal)
    columns = {name: index for name in asked if (index := _column(shape.names, name)) is not None}
    for name in columns:
        places = [f"column {index + 1}" for index, one in enumerate(shape.names) if one == name]
        if len(places) > 1:
            raise twice(file, name, places, shape.header + 1)
    rows = [number for number in range(shape.first, len(lines)) if _is_data(lines[number])]
    if len(rows) < 2:
        count = "no sample" if not rows else "one sample only"
        raise unreadable(
            file,
            f"it holds {count}",
            "A run has many: record it again, or name the file that has it.",
            len(lines),
        )
    numbers, texts = _values(file, lines, rows, shape, columns)
    units = {name: shape.units[index] for name, index in columns.items()}
    return Channels(
        file,
        numbers,
        units,
        tuple(name for name in shape.names if name),
        texts,
        tuple(number + 1 for number in rows),
        (*encoding, *shape.remarks),
        simulated,
    )


def file_bytes(path: Path) -> bytes:
    """Give what a file holds. Raises ChoreoError: there is none, it can't be read, it is too large for a run."""
    file = str(path)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise unreadable(
                file, f"it is larger than {MOST_BYTES // 1_000_000} MB", "Cut it to the run."
            )
        return path.read_bytes()
    except FileNotFoundError:
        beside = [one.name for one in path.parent.glob("*")] if path.parent.is_dir() else []
        nearest = nearest_word(path.name, beside)
        advice = f"Did you mean `{quoted(nearest)}`?" if nearest else "Check the path."
        raise unreadable(file, "there is no such file", advice) from None
    except OSError as error:
        raise unreadable(
            file, error.strerror or "it can't be read", "Name a file of a run."
        ) from None


def _lines(file: str, raw: bytes) -> tuple[list[str], bool, tuple[Remark, ...]]:
    """All lines of a file, whether it says that it is simulated, and what was taken for its encoding."""
    if not raw.strip():
        raise unreadable(file, "it is empty", "Name the file that holds the run.")
    remarks: tuple[Remark, ...] = ()
    try:
        if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
            text = raw.decode("utf-16")
            remarks = (Remark("text in UTF-16"),)
        elif b"\0" in raw[:10_000]:
            raise unreadable(
                file,
                "it is no text, and no MDF4, Parquet or zip either",
                "Name the file as the logger or its software exports it.",
            )
        else:
            text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("latin-1")
        remarks = (Remark("text in Latin-1, since it is no UTF-8"),)
    lines = text.splitlines()
    return lines, MARK in lines[0], remarks


def _is_data(line: str) -> bool:
    return bool(line) and not line.isspace() and not line.startswith(COMMENTS)


def _shape(
    file: str, lines: list[str], asked: Sequence[str], delimiter: str | None, decimal: str | None
) -> _Shape:
    filled = [number for number, line in enumerate(lines) if _is_data(line)]
    if not filled:
        raise unreadable(file, "it holds comments only", "Name the file that holds the run.")
    body = [lines[number] for number in filled[len(filled) // 2 :][:LOOKED_AT]]
    remarks: list[Remark] = []
    if delimiter is None:
        delimiter, word = _delimiter(body)
        remarks.append(Remark(f"delimiter: {word}"))
    has_quotes = any('"' in line for line in body)
    header, names, units = _header(file, lines, filled, delimiter, asked)
    after = [number for number in filled if header is None or number > header]
    first = after[0] if after else len(lines)
    if header is None:
        remarks.append(Remark("no header: channels by the number of their column"))
    elif header != filled[0] or header > 0:
        remarks.append(Remark(f"header in line {header + 1}"))
    if after and header is not None:
        row = split(lines[first], delimiter)
        if _is_units(row):
            units = tuple(
                _unit(cell) if unit is None else unit
                for cell, unit in zip([*row, *[""] * len(units)], units, strict=False)
            )
            remarks.append(Remark(f"units in line {first + 1}"))
            first = after[1] if len(after) > 1 else len(lines)
    comma = decimal == "," if decimal is not None else _has_commas(body, delimiter)
    if comma and decimal is None:
        remarks.append(Remark("decimal commas"))
    return _Shape(delimiter, comma, has_quotes, names, units, header or 0, first, tuple(remarks))


def split(line: str, delimiter: str) -> list[str]:
    """Give the cells of a line, quotes and blanks around them taken off."""
    if '"' in line:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    else:
        cells = line.split() if delimiter == " " else line.split(delimiter)
    return [cell.strip() for cell in cells]


def _delimiter(body: list[str]) -> tuple[str, str]:
    """What parts most lines into one number of cells, more than one."""
    for delimiter, word in DELIMITERS:
        counts = [len(split(line, delimiter)) for line in body]
        usual = max(set(counts), key=counts.count)
        if usual > 1 and counts.count(usual) >= 0.5 * len(counts):
            return delimiter, word
    return ",", "comma"


def _has_commas(body: list[str], delimiter: str) -> bool:
    """Whether numbers are written with decimal commas."""
    if delimiter == ",":
        return False
    cells = [cell for line in body for cell in split(line, delimiter)]
    return any(NUMBER_WITH_COMMA.fullmatch(cell) for cell in cells)


def _header(
    file: str, lines: list[str], filled: list[int], delimiter: str, asked: Sequence[str]
) -> tuple[int | None, tuple[str, ...], tuple[str | None, ...]]:
    """The line that names most of what is asked for; None where columns go by number."""
    best: tuple[int, int] | None = None
    for number in filled[:MOST_ABOVE]:
        cells = split(lines[number], delimiter)
        known = {*cells, *(name_and_unit(cell)[0] for cell in cells)}
        found = sum(name in known for name in asked)
        if found and (best is None or found > best[0]):
            best = (found, number)
    if best is not None:
        cells = split(lines[best[1]], delimiter)
        names = tuple(cell if cell in asked else name_and_unit(cell)[0] for cell in cells)
        units = tuple(None if cell in asked else name_and_unit(cell)[1] for cell in cells)
        return best[1], names, units
    if all(BY_NUMBER.fullmatch(name) for name in asked):
        count = len(split(lines[filled[len(filled) // 2]], delimiter))
        return None, tuple(f"column {index + 1}" for index in range(count)), (None,) * count
    first = filled[0]
    _refuse_other_header(file, lines, filled, delimiter, asked)
    cells = split(lines[first], delimiter)
    if all(_is_number(cell) for cell in cells):
        why = "it has no header: its first line holds numbers already"
        instead = "Write channels by their place, like `channel: column 3`, each with its unit."
    else:
        listed = ", ".join(f"`{quoted(cell)}`" for cell in cells[:12] if cell)
        why = f"none of the channels is in it; line {first + 1} has {listed}"
        instead = "Write the names of the channels as the file has them."
    raise unreadable(file, why, instead, first + 1)


def _refuse_other_header(
    file: str, lines: list[str], filled: list[int], delimiter: str, asked: Sequence[str]
) -> None:
    """Tell a header that is parted by something else than the rows below it."""
    words = dict(DELIMITERS)
    for number in filled[:MOST_ABOVE]:
        for other in words:
            named = {name_and_unit(cell)[0] for cell in split(lines[number], other)}
            if other != delimiter and len(named) > 1 and named & set(asked):
                raise unreadable(
                    file,
                    f"the header in line {number + 1} is parted by {words[other]}s, the rows by "
                    f"{words.get(delimiter, delimiter)}s",
                    "One delimiter parts all lines of a table: export it again, or exchange the header's.",
                    number + 1,
                )


def _is_number(cell: str) -> bool:
    try:
        float(cell.replace(",", "."))
    except ValueError:
        return cell.lower() in EMPTY
    return True


def _is_units(row: list[str]) -> bool:
    """Whether a row below the header has units: no number, no time, and most of its words are units that are known.

    A word that is none is told where its channel is wanted.
    """
    words = [cell for cell in row if _unit(cell) not in (None, "1", "-")]
    if any(VALUE.fullmatch(cell) for cell in row if cell != "1"):
        return False
    return bool(words) and 2 * sum(_known_unit(cell) for cell in words) > len(words)


def _known_unit(cell: str) -> bool:
    bare = cell.strip("[]()<>").strip()
    key = bare.lower().replace(" ", "")
    known = bare in UNITS or key in SPELLINGS or key in OTHER_UNITS
    return known or FORM_OF_TIME.fullmatch(bare) is not None


def _unit(cell: str) -> str | None:
    bare = cell.strip("[]()<>").strip()
    return bare or None


def _column(names: Sequence[str], name: str) -> int | None:
    if name in names:
        return names.index(name)
    by_number = BY_NUMBER.fullmatch(name)
    index = int(by_number[1]) - 1 if by_number else len(names)
    return index if index < len(names) else None


def _values(
    file: str, lines: list[str], rows: list[int], shape: _Shape, columns: dict[str, int]
) -> tuple[dict[str, Floats], dict[str, list[str]]]:
    """Numbers by channel; of a channel whose first values are dates or times of day, its texts."""
    looked_at = [split(lines[number], shape.delimiter) for number in rows[:LOOKED_AT]]
    dated = {
        name
        for name, index in columns.items()
        if any(index < len(row) and WRITTEN_OUT.match(row[index]) for row in looked_at)
    }
    parts: dict[str, list[Floats]] = {name: [] for name in columns}
    texts: dict[str, list[str]] = {name: [] for name in dated}
    for begin in range(0, len(rows), CHUNK):
        some = rows[begin : begin + CHUNK]
        if _quickly(lines, some, shape, columns, parts, texts):
            continue
        cells = list(_split_rows(file, lines, some, shape))
        for name, index in columns.items():
            column = [row[index] for row in cells]
            if name in dated:
                texts[name] += [cell.strip() for cell in column]
            else:
                parts[name].append(_numbers(file, column, some, index, comma=shape.comma))
    numbers = {name: _finite(np.concatenate(part)) for name, part in parts.items() if part}
    return numbers, texts


def _finite(values: Floats) -> Floats:
    """Take infinities for what they are in a record: nothing that was measured."""
    values[~np.isfinite(values)] = math.nan
    return values


def _quickly(
    lines: list[str],
    rows: list[int],
    shape: _Shape,
    columns: dict[str, int],
    parts: dict[str, list[Floats]],
    texts: dict[str, list[str]],
) -> bool:
    """Read rows that are whole and plain in one go, into parts and texts; say whether they were."""
    some, delimiter = [lines[number] for number in rows], shape.delimiter
    if shape.comma or shape.quoted or delimiter == " ":
        return False
    if any(line.count(delimiter) != len(shape.names) - 1 for line in some):
        return False
    plain = {name: index for name, index in columns.items() if name not in texts}
    try:
        found = np.loadtxt(
            some, delimiter=delimiter, usecols=list(plain.values()), comments=None, ndmin=2
        )
    except ValueError:
        return False  # a cell without a number: looked at one by one
    for place, name in enumerate(plain):
        parts[name].append(found[:, place].copy())
    for name in texts:
        index = columns[name]
        texts[name] += [line.split(delimiter, index + 1)[index].strip() for line in some]
    return True


def _split_rows(file: str, lines: list[str], rows: list[int], shape: _Shape) -> Iterator[list[str]]:
    wanted = len(shape.names)
    for number in rows:
        line = lines[number]
        plain = shape.delimiter != " " and '"' not in line
        cells = line.split(shape.delimiter) if plain else split(line, shape.delimiter)
        if len(cells) != wanted:
            if len(cells) == wanted + 1 and not cells[-1].strip():
                cells.pop()
            else:
                why = f"line {number + 1} has {len(cells)} cells, the header {wanted}"
                last = number == rows[-1] and len(cells) < wanted
                instead = (
                    "It may be cut off: look whether the recording ended well, and delete what is broken."
                    if last
                    else "One delimiter parts all cells, and decimal commas need another: write `delimiter`, `decimal`."
                )
                raise unreadable(file, why, instead, number + 1)
        yield cells


def _numbers(file: str, column: list[str], rows: list[int], index: int, *, comma: bool) -> Floats:
    if comma:
        column = [cell.replace(",", ".") for cell in column]
    try:
        return np.array(list(map(float, column)))
    except ValueError:
        return np.array(
            [_number(file, cell, row, index) for cell, row in zip(column, rows, strict=True)]
        )


def _number(file: str, cell: str, row: int, index: int) -> float:
    try:
        return float(cell)
    except ValueError:
        pass
    if cell.strip().strip('"').lower() in EMPTY:
        return math.nan
    try:
        return float(cell.strip().strip('"'))
    except ValueError:
        why = f"`{quoted(cell.strip())}` in column {index + 1} is no number"
        instead = (
            'A decimal comma needs another delimiter than a comma: write `decimal: ","`.'
            if NUMBER_WITH_COMMA.fullmatch(cell)
            else "Write a number, or leave the cell empty where nothing was measured."
        )
        raise unreadable(file, why, instead, row + 1, 1) from None
