"""What `choreo new` does: list the ready files, copy one with all that it needs."""

from __future__ import annotations

import json
import os
import shlex
from itertools import groupby
from pathlib import Path
from textwrap import wrap

import click

from choreo.commands.screen import screen
from choreo.export.files import is_standard_output, write_all
from choreo.guide.ready import Ready, copies_of, ready_files, ready_named
from choreo.words import ChoreoError, Finding, Origin

INDENT = " " * 6


def print_ready(*, as_json: bool, width: int | None) -> None:
    """List the ready files by group."""
    found = ready_files()
    if as_json:
        click.echo(json.dumps({"ready": [_document(one) for one in found]}, indent=2))
        return
    lines = ["Ready files. `choreo new NAME` copies one here, with all that it needs."]
    columns = screen(width).width
    for group, members in groupby(found, key=lambda one: one.group):
        lines += ["", group]
        for one in members:
            lines.append(f"  {one.name}")
            lines += wrap(one.purpose, columns, initial_indent=INDENT, subsequent_indent=INDENT)
    click.echo("\n".join(lines))


def _document(one: Ready) -> dict[str, str]:
    return {"name": one.name, "group": one.group, "title": one.title, "purpose": one.purpose}


def copy_ready(name: str, output: Path | None, *, as_json: bool) -> None:
    """Copy the ready file of that name, and beside it what it needs and what isn't there yet.

    output: a file that isn't there yet, or a folder. Raises ChoreoError: no such ready file, several of them, a file
    that is there already with another text, a folder that can't be written to.
    """
    ready = ready_named(name)
    target = Path(ready.file.name) if output is None else output
    if is_standard_output(target):
        raise click.UsageError("A copy needs files beside it: name a file with -o.")
    if target.is_dir():
        target = target / ready.file.name
    copies = {target.parent / path: text for path, text in copies_of(ready, target.name).items()}
    new = [file for file, text in copies.items() if not _same(file, text, first=file == target)]
    _write({file: copies[file] for file in new})
    kept = [file for file in copies if file not in new]
    if as_json:
        document = {
            "name": ready.name,
            "file": str(target),
            "written": [str(file) for file in new],
            "kept": [str(file) for file in kept],
        }
        click.echo(json.dumps(document, indent=2))
        return
    click.echo(f"{ready.name}: {ready.purpose}")
    for file in new:
        click.echo(f"  {file} written")
    for file in kept:
        click.echo(f"  {file} was there already, the same")
    if ready.command is not None:
        click.echo(f"Next: choreo {ready.command} {shlex.quote(str(target))}")


def _same(file: Path, text: str, *, first: bool) -> bool:
    """Tell whether a file is there with that very text; with another one, or in the copy's own place, it is a fault."""
    if not os.path.lexists(file):
        return False
    try:
        same = not first and file.read_text(encoding="utf-8") == text
    except (OSError, UnicodeDecodeError):
        same = False
    if same:
        return True
    values = {
        "file": str(file),
        "why": "" if first else ", and it is not the one that the copy needs",
        "instead": "Write to another file with `-o FILE`."
        if first
        else "Write to another folder with `-o FOLDER/NAME.yaml`.",
    }
    raise ChoreoError((Finding("guide.already-there", "error", None, values),))


def _write(texts: dict[Path, str]) -> None:
    """Write all of these new files or none; folders that are missing are made, and taken back after a failure."""
    made: list[Path] = []
    try:
        for file in texts:
            _make_folder(file.parent, made)
        write_all(texts.items())
    except BaseException:
        for folder in reversed(made):
            folder.rmdir()
        raise


def _make_folder(folder: Path, made: list[Path]) -> None:
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        try:
            one.mkdir()
        except OSError as error:
            instead = "Choose a folder that you may write to."
            values = {"why": error.strerror or "no access", "instead": instead}
            place = Origin(str(one), 1, 1)
            raise ChoreoError((Finding("plan.not-written", "error", place, values),)) from None
        made.append(one)
