"""What is varied, read: steps written out, values of one kind, none twice, every exclusion excluding something."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal

from choreo.scenario.making.draft import Draft
from choreo.scenario.records.matrix import Matrix
from choreo.scenario.text.document import Keys
from choreo.scenario.written.matrix import MatrixWritten
from choreo.words.quantities import (
    FREE,
    KINDS,
    RANGE_MARK,
    QuantityError,
    kind_of,
    parse_range,
    quoted,
)
from choreo.words.records import dataclass
from choreo.words.units import NUMBER, QuantityKind

# A list with more entries was meant otherwise.
MOST_VALUES = 10_000
STEPPED = re.compile(
    rf"\s*({NUMBER})\s*(\S+?)?\s*\.\.\s*({NUMBER})\s*(\S+)\s+by\s+({NUMBER})\s*(\S+)\s*"
)
# What has no name yet can get one.
ELSE = "Anything else that a scenario says can be varied once it is a key of its `values:`."
ITS_OWN = {"vary": "together", "together": "vary"}


def matrix_of(
    draft: Draft, keys: Keys, written: MatrixWritten, values: Mapping[str, str] | None
) -> Matrix:
    """Make the matrix written at a place; faults go to the draft, and with some only what is sound is in it.

    values: the named values of the scenario, as written, None where they aren't known. A name with a blank is a
    quantity's, which only a case can look up.
    """
    return _Reading(draft, keys, values).matrix(written)


def kind_of_value(text: str) -> QuantityKind | None:
    """Give the kind of a value by its unit; None for `free` and for what can't be read."""
    try:
        return None if text.strip() == FREE else kind_of(text)
    except QuantityError:
        return None


def said_by(text: str) -> tuple[object, ...]:
    """Give what a value says, whatever its unit: two values that say the same are one."""
    kind = kind_of_value(text)
    try:
        return (text,) if kind is None else (kind, *parse_range(text, kind))
    except QuantityError:
        return (text,)


@dataclass(frozen=True)
class _Reading:
    draft: Draft
    keys: Keys
    values: Mapping[str, str] | None

    def matrix(self, written: MatrixWritten) -> Matrix:
        before = len(self.draft.findings)
        vary = self._lists("vary", written.vary)
        together = self._lists("together", written.together)
        for name in together:
            if name in vary:
                at = (*self.keys, "together", name)
                self._wrong(
                    at,
                    f"`{quoted(name)}` is varied already",
                    "Write it in `vary` or in `together`, not in both.",
                    [(*self.keys, "vary", name)],
                )
        self._of_one_length(together)
        self._no_row_twice(together)
        matrix = Matrix(vary, together)
        if len(self.draft.findings) > before:
            for index, one in enumerate(written.without):
                self._named(("without", index), one, matrix.lists)
            sound = [{n: one for n, one in lists.items() if one} for lists in (vary, together)]
            return Matrix(sound[0], sound[1])
        return Matrix(vary, together, self._without(written.without, matrix))

    def _lists(
        self, section: str, written: Mapping[str, tuple[str, ...]]
    ) -> dict[str, tuple[str, ...]]:
        return {
            name: self._list((*self.keys, section, name), name, entries, once=section == "vary")
            for name, entries in written.items()
        }

    def _list(
        self, keys: Keys, name: str, entries: tuple[str, ...], *, once: bool
    ) -> tuple[str, ...]:
        """The values of a list. once: none may stand there twice; in step with others they may."""
        if self.values is not None and " " not in name.strip() and name not in self.values:
            self.draft.unknown(keys, "value", name, self.values, ELSE)
            return ()
        wanted = None if self.values is None else kind_of_value(self.values.get(name, ""))
        if not entries:
            instead = "List at least one quantity, like `[20 km/h, 40 km/h]`."
            self._wrong(keys, "the list is empty", instead)
        found: list[str] = []
        said: dict[tuple[object, ...], Keys] = {}
        for index, text in enumerate(entries):
            at = (*keys, index) if (*keys, index) in self.draft.document.places else keys
            for value in self._entry(at, text.strip(), alone=len(entries) == 1):
                if not self._kind(at, name, value, wanted):
                    continue
                first = said.setdefault(said_by(value), at)
                if once and first != at:
                    what = f"`{quoted(value)}` is in the list already"
                    self._wrong(at, what, "Remove one of them.", [first])
                    break
                found.append(value)
        return tuple(found)

    def _entry(self, at: Keys, text: str, *, alone: bool) -> Iterable[str]:
        """The values of an entry: itself, or what its steps say."""
        match = STEPPED.fullmatch(text)
        if match is not None:
            return self._steps(at, text, match)
        if re.search(r"\bby\b", text):
            self._wrong(
                at,
                f"`{quoted(text)}` can't be read as steps",
                "Write them like `10..60 km/h by 10 km/h`.",
            )
            return ()
        if alone and RANGE_MARK in text:
            self._wrong(
                at,
                f"`{quoted(text)}` is a range, without steps",
                "Write how far one value is from the next, like `10..60 km/h by 10 km/h`, or list the values.",
            )
            return ()
        return (text,)

    def _steps(self, at: Keys, text: str, match: re.Match[str]) -> Iterable[str]:
        """Every value of `10..60 km/h by 10 km/h`, in the unit that it is written in."""
        first, last, by = (Decimal(match[group]) for group in (1, 3, 5))
        unit = match[4]
        if {match[2] or unit, unit, match[6]} != {unit}:
            instead = f"Write beginning, end and step in `{quoted(unit)}`."
            self._wrong(at, f"`{quoted(text)}` has several units", instead)
            return ()
        if by <= 0 or last < first:
            what = "the step must be more than zero" if by <= 0 else "it ends below its beginning"
            better = "10..60 km/h by 10 km/h"
            if by > 0:
                better = f"{_plain(last)}..{_plain(first)} {unit} by {_plain(by)} {unit}"
            self._wrong(at, f"`{quoted(text)}`: {what}", f"Write `{quoted(better)}`, say.")
            return ()
        count = int((last - first) // by) + 1
        if count > MOST_VALUES:
            what = f"`{quoted(text)}` is {count} values, more than {MOST_VALUES}"
            self._wrong(at, what, "Write a larger step.")
            return ()
        steps = [f"{_plain(first + number * by)} {unit}" for number in range(count)]
        if first + (count - 1) * by != last:
            self._wrong(
                at,
                f"the steps of `{quoted(text)}` end at `{steps[-1]}`",
                f"End there, or list the end as well: `[{_plain(first)}..{steps[-1]} by {_plain(by)} {unit}, "
                f"{_plain(last)} {unit}]`.",
            )
            return ()
        return steps

    def _kind(self, at: Keys, name: str, text: str, wanted: QuantityKind | None) -> bool:
        """Whether a value can be read, and is of the kind that the named value has in the scenario."""
        try:
            kind = None if text == FREE else kind_of(text)
            if kind is not None:
                parse_range(text, kind)
        except QuantityError as error:
            self._wrong(at, error.wrong, error.instead)
            return False
        if kind is not None and wanted is not None and kind != wanted:
            of = f"a {wanted} in the scenario"
            what = f"`{quoted(text)}` is {KINDS[kind].a}, `{name}` is {of}"
            self._wrong(at, what, f"Write {KINDS[wanted].a}, like `{KINDS[wanted].example}`.")
            return False
        return True

    def _of_one_length(self, together: Mapping[str, tuple[str, ...]]) -> None:
        lengths = {name: len(values) for name, values in together.items()}
        if len(set(lengths.values())) > 1:
            told = ", ".join(f"`{quoted(name)}` {length}" for name, length in lengths.items())
            self._wrong(
                (*self.keys, "together"),
                f"the lists are not of one length: {told}",
                "Values in step need a value in each list; `vary` crosses lists.",
            )

    def _no_row_twice(self, together: Mapping[str, tuple[str, ...]]) -> None:
        rows = [
            tuple(said_by(value) for value in row) for row in zip(*together.values(), strict=False)
        ]
        twice = next((index for index, row in enumerate(rows) if row in rows[:index]), None)
        if twice is not None:
            self._wrong(
                (*self.keys, "together"),
                f"no. {rows.index(rows[twice]) + 1} and no. {twice + 1} of these lists say the same",
                "Remove one of them from each list.",
            )

    def _without(
        self, written: tuple[Mapping[str, str], ...], matrix: Matrix
    ) -> tuple[Mapping[str, str], ...]:
        """Exclusions in the words of the lists; each names what is varied and leaves something out."""
        lists, found = matrix.lists, []
        known = {name: {said_by(value): value for value in lists[name]} for name in lists}
        for index, one in enumerate(written):
            at: Keys = (*self.keys, "without", index)
            meant: dict[str, str] = {}
            self._named(("without", index), one, lists)
            for name, text in one.items():
                if name not in lists:
                    continue
                same = known[name].get(said_by(text.strip()))
                if same is None:
                    what = f"`{quoted(text)}` is no value of `{quoted(name)}`"
                    self._wrong((*at, name), what, f"Its values: {_some(lists[name])}.")
                    continue
                meant[name] = same
            if not one:
                self._wrong(at, "it leaves everything out", "Name the values to leave out.")
            elif len(meant) == len(one):
                self._leaves_something_out(at, meant, matrix)
                found.append(meant)
        whole = Matrix(matrix.vary, matrix.together, tuple(found))
        if found and matrix.most <= MOST_VALUES and next(whole.combinations(), None) is None:
            self._wrong((*self.keys, "without"), "nothing is left", "Leave less out.")
        return tuple(found)

    def _named(self, below: Keys, one: Mapping[str, str], lists: Mapping[str, object]) -> None:
        """What an exclusion names is varied."""
        for name in one:
            if name not in lists:
                self.draft.unknown((*self.keys, *below, name), "varied name", name, lists)

    def _leaves_something_out(self, at: Keys, meant: Mapping[str, str], matrix: Matrix) -> None:
        steps = [(name, value) for name, value in meant.items() if name in matrix.together]
        rows = zip(*matrix.together.values(), strict=True)
        in_step = any(
            all(
                dict(zip(matrix.together, row, strict=True))[name] == value for name, value in steps
            )
            for row in rows
        )
        if steps and not in_step:
            told = " and ".join(f"`{value}`" for _name, value in steps)
            self._wrong(at, f"{told} are never together", "Remove this line, or mend its values.")

    def _wrong(self, at: Keys, what: str, instead: str, related: Iterable[Keys] = ()) -> None:
        where = " > ".join(f"no. {key + 1}" if isinstance(key, int) else quoted(key) for key in at)
        self.draft.fault(
            "scenario.bad-value", at, related=related, where=where, what=what, instead=instead
        )


def _plain(number: Decimal) -> str:
    """A decimal number as people write it."""
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _some(values: tuple[str, ...], most: int = 8) -> str:
    told = ", ".join(f"`{one}`" for one in values[:most])
    return told if len(values) <= most else f"{told} and {len(values) - most} more"
