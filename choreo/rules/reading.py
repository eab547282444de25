"""A rule set file, with the one that it builds on -> a checked RuleSet, or all its faults."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, ClassVar

from choreo.rules.making import Making
from choreo.rules.records import Band, Family, Grid, Rule, RuleSet, Source
from choreo.rules.written import SECTIONS, FamilyWritten, RulesWritten
from choreo.scenario.making.companions import check_kind, named_at
from choreo.scenario.making.draft import Draft
from choreo.scenario.text.document import Document, Keys, parse_document, read_text
from choreo.scenario.written.faults import in_order, validated
from choreo.words import ChoreoError, Finding, Origin, errors_of
from choreo.words.nearest import nearest_word, suggestion
from choreo.words.quantities import quoted

BEGINS_WITH = "choreo rules"
BUNDLED = Path(__file__).parent / "sets"
ENDINGS = (".yaml", ".yml")
# The fault of a key that has no default.
MISSING = "scenario.missing-key"
# A set, and its text with all that it builds on.
Whole = tuple[RuleSet, Document]
# So many sets of users' own are remembered.
MOST_KNOWN = 100
# Size and time of the last change of a file.
State = tuple[int, int] | None
# Sets build on sets so often; deeper is a slip.
MOST_DEEP = 5


def bundled_names() -> list[str]:
    """Names of the sets that travel with the program."""
    return sorted(path.stem for path in BUNDLED.glob("*.yaml"))


def rule_set(name: str, folder: Path, asked: Origin | None = None) -> RuleSet:
    """Read a rule set: a bundled one by its name, any other by its path, relative to a folder.

    asked: where a file names it. Raises ChoreoError: no such set, every fault of its file.
    """
    if name.endswith(ENDINGS) or "/" in name:
        return _own(folder / name, asked)
    if name not in bundled_names():
        advice = suggestion(name, bundled_names())
        if (folder / f"{name}.yaml").exists():
            advice = f"A file of your own is named with its ending: `{quoted(name)}.yaml`."
        values = {"name": quoted(name), "suggestion": advice}
        raise ChoreoError([Finding("rules.no-set", "error", asked, values)])
    return bundled(name)


class _Known:
    """Sets of users' own as they were read, with the states of their files then: a campaign asks for one often."""

    sets: ClassVar[dict[Path, tuple[tuple[State, ...], RuleSet]]] = {}


def _own(path: Path, asked: Origin | None) -> RuleSet:
    known = _Known.sets.get(path)
    if known is not None and _states(known[1].source_files) == known[0]:
        return known[1]
    rules = _read(path, asked, ())[0]
    if len(_Known.sets) >= MOST_KNOWN:
        _Known.sets.clear()
    _Known.sets[path] = (_states(rules.source_files), rules)
    return rules


def _states(files: tuple[str, ...]) -> tuple[State, ...]:
    """Size and time of the last change of each file; None of one that isn't there."""
    states: list[State] = []
    for file in files:
        try:
            state = Path(file).stat()
        except OSError:
            states.append(None)
        else:
            states.append((state.st_size, state.st_mtime_ns))
    return tuple(states)


def bundled(name: str) -> RuleSet:
    """Give a set that travels with the program, by its name."""
    return _bundled(name)[0]


@cache
def _bundled(name: str) -> Whole:
    return _read(BUNDLED / f"{name}.yaml", None, ())


def family_of(rules: RuleSet, name: str, asked: Origin | None = None) -> Family:
    """Give a family of a set. Raises ChoreoError: rules.no-family."""
    if name in rules.families:
        return rules.families[name]
    values = {
        "name": quoted(name),
        "set": rules.name,
        "suggestion": suggestion(name, rules.families),
    }
    raise ChoreoError([Finding("rules.no-family", "error", asked, values)])


def _read(path: Path, asked: Origin | None, above: tuple[Path, ...]) -> Whole:
    document = parse_document(read_text(path, asked), str(path), BEGINS_WITH)
    try:
        return _Reading(document, path, above).rule_set(), document
    except ChoreoError as error:
        raise ChoreoError(named_at(asked, error.findings)) from None


class _Reading:
    def __init__(self, document: Document, path: Path, above: tuple[Path, ...]) -> None:
        self.document = document
        self.path = path
        self.above = above
        self.draft = Draft(document)

    def rule_set(self) -> RuleSet:
        """Give the set. Raises ChoreoError: every fault found."""
        data, findings = self.document.data, self.draft.findings
        check_kind(self.document, BEGINS_WITH)
        findings += self.document.findings
        below = self._base(data.get("builds on"))
        base = None if below is None else below[0]
        inherited = {} if below is None else _inherit(self.document, *below)
        written = validated(self.document, RulesWritten, findings)
        if below is not None:
            self._slips(below[1])
        if written is None or errors_of(findings):
            raise ChoreoError(in_order(findings))
        making = Making(self.draft, written.document, written.version, written.status, inherited)
        rules = making.rules(written)
        families = self._families(written, making, rules, base)
        if not families and not errors_of(findings):
            self._wrong(("families",), "there is no family", "Name one, with the ids of its rules.")
        if errors_of(findings):
            raise ChoreoError(in_order(findings))
        return RuleSet(
            name=self.path.stem,
            title=written.title,
            document=written.document,
            version=written.version,
            date=written.date,
            newest=written.newest,
            families=families,
            builds_on=None if base is None else base.name,
            note=written.note or ("" if base is None else base.note),
            file=str(self.path),
            source_files=(str(self.path), *(() if base is None else base.source_files)),
            on_newest=base is None or (base.newest and base.on_newest),
        )

    def _slips(self, known: Document) -> None:
        """Tell an id that the set built on nearly has, and that lacks what a rule needs, as a slip of the id alone."""
        findings = self.draft.findings
        for section in SECTIONS:
            entries, own = known.data.get(section) or {}, self.document.data.get(section) or {}
            for name in own if isinstance(own, dict) and isinstance(entries, dict) else ():
                keys: Keys = (section, name)
                place = self.document.origin(keys)
                lacks = [one for one in findings if one.code == MISSING and one.origin == place]
                if lacks and name not in entries and nearest_word(str(name), entries) is not None:
                    findings[:] = [one for one in findings if one not in lacks]
                    more = "A rule of its own has all keys."
                    self.draft.unknown(keys, "rule", str(name), entries, more)

    def _base(self, name: Any) -> Whole | None:
        if not isinstance(name, str) or not name:
            return None
        keys: Keys = ("builds on",)
        if self.path in self.above or len(self.above) >= MOST_DEEP:
            self._wrong(keys, "sets build on each other in a circle", "Name another set.")
            raise ChoreoError(in_order(self.draft.findings))
        place = self.document.origin(keys)
        if name.endswith(ENDINGS) or "/" in name:
            return _read(self.path.parent / name, place, (*self.above, self.path))
        rule_set(name, self.path.parent, place)
        return _bundled(name)

    def _families(
        self,
        written: RulesWritten,
        making: Making,
        rules: Mapping[str, Rule],
        base: RuleSet | None,
    ) -> dict[str, Family]:
        known = {} if base is None else base.families
        families = {name: _with(family, rules) for name, family in known.items()}
        for name, one in written.families.items():
            keys: Keys = ("families", name)
            before = families.get(name)
            chosen = {rule.id: rule for rule in (() if before is None else before.rules)}
            for group, rule_id, place in self._ids((*keys, "rules"), one.rules, written):
                if rule_id in rules:
                    chosen[rule_id] = rules[rule_id]
                else:
                    listed = (*rules, *written.groups)
                    self.draft.unknown(
                        place,
                        "rule" if group is None else f"rule (of group {group})",
                        rule_id,
                        listed,
                    )
            for index, rule_id in enumerate(one.without):
                if chosen.pop(rule_id, None) is None and (one.movers or before is not None):
                    self.draft.unknown((*keys, "without", index), "rule", rule_id, chosen)
            # A band takes its window along.
            for rule in [one for one in chosen.values() if isinstance(one, Band)]:
                if rule.window in rules:
                    chosen.setdefault(rule.window, rules[rule.window])
            if not one.movers and before is None:
                instead = "Write them like `movers: [subject, walker]`."
                nearest = nearest_word(name, known)
                instead = (
                    f"Did you mean `{nearest}`? Of another one: {instead}" if nearest else instead
                )
                self._wrong(keys, "it isn't said who takes part", instead)
            families[name] = self._family(making, name, one, before, chosen)
        return families

    def _family(
        self,
        making: Making,
        name: str,
        one: FamilyWritten,
        before: Family | None,
        chosen: Mapping[str, Rule],
    ) -> Family:
        keys: Keys = ("families", name)
        t0 = None if before is None else before.t0
        matrix: dict[str, Grid] = {} if before is None else {g.name: g for g in before.matrix}
        for grid in making.grids(name, one):
            matrix[grid.name] = grid
        return Family(
            name,
            one.title or ("" if before is None else before.title),
            one.movers or (() if before is None else before.roles),
            t0 if one.t0 is None else making.event((*keys, "T0"), one.t0),
            tuple(chosen.values()),
            tuple(matrix.values()),
            making.impact(name, one) or (None if before is None else before.impact),
        )

    def _ids(
        self, keys: Keys, named: tuple[str, ...], written: RulesWritten
    ) -> Iterator[tuple[str | None, str, Keys]]:
        """Ids of rules, those of groups too: which group, the id, where it stands."""
        for index, name in enumerate(named):
            if name not in written.groups:
                yield None, name, (*keys, index)
                continue
            for inside, rule_id in enumerate(written.groups[name]):
                yield name, rule_id, ("groups", name, inside)

    def _wrong(self, keys: Keys, what: str, instead: str) -> None:
        where = " > ".join(str(key) for key in keys)
        self.draft.fault("scenario.bad-value", keys, where=where, what=what, instead=instead)


def _with(family: Family, rules: Mapping[str, Rule]) -> Family:
    """The family with the rules that a set has changed."""
    return replace(family, rules=tuple(rules.get(rule.id, rule) for rule in family.rules))


def _inherit(document: Document, base: RuleSet, known: Document) -> dict[tuple[str, str], Source]:
    """Put the rules of the set built on, as written in `known`, below those of a document, key by key.

    Returns the sources of those that it doesn't change, by section and id.
    """
    sources = {rule.id: rule.source for one in base.families.values() for rule in one.rules}
    inherited: dict[tuple[str, str], Source] = {}
    for section in SECTIONS:
        own = document.data.get(section) or {}
        if not isinstance(own, dict):
            continue
        entries: dict[str, Any] = known.data.get(section) or {}
        merged = {name: _below(entry, own.get(name)) for name, entry in entries.items()}
        document.data[section] = merged | {k: v for k, v in own.items() if k not in merged}
        for name in entries:
            if name not in own and name in sources:
                inherited[section, name] = sources[name]
    for keys, place in known.places.items():
        document.places.setdefault(keys, place)
    return inherited


def _below(entry: Any, changed: Any) -> Any:
    """An entry as it is changed, key by key; what says where it comes from is not taken over."""
    if changed is None:
        return entry
    if not isinstance(entry, dict) or not isinstance(changed, dict):
        return changed
    kept = {k: v for k, v in entry.items() if k not in ("clause", "status", "note")}
    return kept | changed
