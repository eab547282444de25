"""Ready scenarios, sites and fleets: what there is, what each is for, and copies of them that work elsewhere.

The header of each file begins with `# GROUP: what it stages.`; there is no other list.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import PurePosixPath

from choreo.scenario.text.document import Document, Keys, parse_document
from choreo.words import ChoreoError, Finding
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

# Where ready files lie below the bundle's folder, in the order in which they are shown.
FOLDERS = ("", "impossible", "circuits", "sites", "fleet")
HEADER = re.compile(r"(?P<group>[^:]+): (?P<purpose>.+?)(?:\.\s|\.?$)")
TITLE = re.compile(r"^title: (.*)$", re.MULTILINE)
# What several scenarios share is named with its folder: `junction` alone shall mean a scenario.
SHARED = ("circuits", "sites", "fleet")
# What plans a file, by the key that it begins with.
COMMANDS = {"choreo share": "share", "choreo circuit": "laps", "choreo": "plan"}
# Most names that a message lists.
MOST_NAMES = 12


@dataclass(frozen=True, slots=True)
class Ready:
    """A ready file; group and purpose are from its header, file is its place in the bundle, command what plans it."""

    name: str
    group: str
    purpose: str
    title: str
    file: PurePosixPath
    command: str | None


def ready_files() -> tuple[Ready, ...]:
    """Give every ready file: by folder, then by group, then by name."""
    found = []
    for number, folder in enumerate(FOLDERS):
        for entry in _bundle().joinpath(folder).iterdir():
            if entry.name.endswith(".yaml"):
                one = _ready(PurePosixPath(folder) / entry.name)
                found.append(((number, one.group, one.name), one))
    return tuple(one for _, one in sorted(found, key=lambda pair: pair[0]))


def _is_in_a_folder(name: str, word: str) -> bool:
    return PurePosixPath(name).name == word


def ready_named(word: str) -> Ready:
    """Give the ready file of that name, or the only one whose name begins with the word or has it inside.

    Raises ChoreoError: guide.several-ready, guide.no-such-ready.
    """
    known = {one.name: one for one in ready_files()}
    wanted = word.strip().lower().removesuffix(".yaml")
    if wanted in known:
        return known[wanted]
    for fits in (str.startswith, _is_in_a_folder, str.__contains__):
        matches = [name for name in known if wanted and fits(name, wanted)]
        if len(matches) == 1:
            return known[matches[0]]
        if matches:
            raise _fault("guide.several-ready", word, names=_listed(matches))
    near = nearest_word(wanted, known)
    advice = f"Did you mean `{near}`? " if near else ""
    raise _fault("guide.no-such-ready", word, suggestion=advice)


def copies_of(ready: Ready, name: str) -> dict[PurePosixPath, str]:
    """Give the texts to write for a copy of a ready file called `name`, by path from the copy's folder.

    The copy comes first; files that it needs keep their places below the bundle's folder, and the copy names
    them there.
    """
    text = _text(ready.file)
    references = list(_references(ready.file, text))
    copies = {PurePosixPath(name): _renamed(text, references)}
    waiting = [one.file for one in references]
    while waiting:
        file = waiting.pop(0)
        if file not in copies:
            copies[file] = _text(file)
            waiting += [one.file for one in _references(file, copies[file])]
    return copies


def _bundle() -> Traversable:
    """The bundle's folder: in the package, or beside it where the package lies in the repository."""
    package = files("choreo")
    inside = package.joinpath("scenarios")
    return inside if inside.is_dir() else package.joinpath("..", "scenarios")


def _text(file: PurePosixPath) -> str:
    return _bundle().joinpath(*file.parts).read_text(encoding="utf-8")


def _ready(file: PurePosixPath) -> Ready:
    text = _text(file)
    lines = text.split("\n")
    header = [line.removeprefix("#").strip() for line in lines[: lines.index("")]]
    match, title = HEADER.match(" ".join(header)), TITLE.search(text)
    if match is None or title is None:
        raise AssertionError(f"{file} begins with no `# GROUP: what it stages.`, or has no title")
    name = str(file.with_suffix("")) if file.parts[0] in SHARED else file.stem
    begins = (command for key, command in COMMANDS.items() if f"\n{key}: 1\n" in text)
    return Ready(name, match["group"], match["purpose"], title[1], file, next(begins, None))


@dataclass(frozen=True, slots=True)
class Reference:
    """Where a text names another file, line and column from 0, in which words; and where that lies in the bundle."""

    line: int
    column: int
    written: str
    file: PurePosixPath


def _references(file: PurePosixPath, text: str) -> Iterator[Reference]:
    if file.suffix != ".yaml":
        return
    document = parse_document(text, str(file))
    for keys in _reference_keys(document):
        place, written = document.origin(keys), str(_value(document, keys))
        needed = PurePosixPath(posixpath.normpath(file.parent / written))
        yield Reference(place.line - 1, place.column - 1, written, needed)


def _reference_keys(document: Document) -> Iterator[Keys]:
    for keys in document.places:
        alone = keys in (("site",), ("geojson",), ("placed", "on"))
        named = (
            alone or keys[:1] == ("fleet",) or keys[-1:] in (("surveyed",), ("file",), ("staged",))
        )
        value = _value(document, keys)
        if keys in (("rules", "set"), ("builds on",)):
            # A bundled rule set has a name, one beside the scenario an ending.
            named = str(value).endswith(".yaml")
        if named and isinstance(value, str):
            yield keys


def _value(document: Document, keys: Keys) -> object:
    value = document.data
    for key in keys:
        value = value[key]
    return value


def _renamed(text: str, references: Iterable[Reference]) -> str:
    """The text with every file named from the bundle's folder."""
    lines = text.split("\n")
    for one in references:
        head, tail = lines[one.line][: one.column], lines[one.line][one.column :]
        lines[one.line] = head + tail.replace(one.written, str(one.file), 1)
    return "\n".join(lines)


def _listed(names: list[str]) -> str:
    more = "" if len(names) <= MOST_NAMES else f" and {len(names) - MOST_NAMES} more"
    return ", ".join(f"`{name}`" for name in names[:MOST_NAMES]) + more


def _fault(code: str, word: str, **values: str) -> ChoreoError:
    return ChoreoError((Finding(code, "error", None, {"name": quoted(word), **values}),))
