"""The guide as a user reads it: in a pipe, on a terminal, by a misspelt name."""

import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from choreo.commands.entry import group
from choreo.guide.pages import PAGES, all_pages, page_of

COLOURS = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]")


def choreo(*arguments: str) -> Result:
    """Run the command without a terminal."""
    return CliRunner().invoke(group, arguments, prog_name="choreo", catch_exceptions=False)


def on_a_terminal(*arguments: str, columns: int = 80) -> str:
    """Run the command on a terminal of that width; its pager prints all at once."""
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "choreo", *arguments],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env={**os.environ, "PAGER": "cat", "COLUMNS": str(columns), "TERM": "xterm"},
    )
    os.close(theirs)
    shown = b""
    while chunk := _read(ours):
        shown += chunk
    os.close(ours)
    assert process.wait() == 0
    return shown.decode().replace("\r\n", "\n")


def _read(terminal: int) -> bytes:
    try:
        return os.read(terminal, 65536)
    except OSError:  # the other side has closed
        return b""


def test_list_has_every_page_with_what_it_holds_in_a_line() -> None:
    lines = choreo("guide", "--width", "80").output.splitlines()
    assert [line.split()[0] for line in lines[2:]] == list(PAGES)
    assert [line.split(maxsplit=1)[1] for line in lines[2:]] == [one.summary for one in all_pages()]
    assert max(len(line) for line in lines) <= 80


def test_pages_are_the_files_that_are_there() -> None:
    folder = Path(__file__).parents[2] / "choreo" / "guide"
    assert sorted(file.stem for file in folder.glob("*.md")) == sorted(PAGES)


def test_json_lists_the_pages() -> None:
    told = json.loads(choreo("guide", "--json").output)
    assert [one["name"] for one in told["pages"]] == list(PAGES)
    assert all(one["title"] and one["summary"].endswith(".") for one in told["pages"])


@pytest.mark.parametrize("name", PAGES)
def test_a_pipe_gets_the_source(name: str) -> None:
    assert choreo("guide", name).output == page_of(name).text
    assert choreo("guide", name.upper(), "--plain").output == page_of(name).text


@pytest.mark.parametrize("name", PAGES)
def test_a_page_set_for_80_columns_fits_and_loses_no_word(name: str) -> None:
    shown = choreo("guide", name, "--width", "80").output
    assert max(len(line) for line in shown.splitlines()) <= 80
    assert "\n\n\n" not in shown
    assert "<!--" not in shown
    words = set(
        re.findall(r"[A-Za-z]{4,}", re.sub(r"<!--.*?-->|```\w*|\]\(.*?\)", "", page_of(name).text))
    )
    assert words - set(re.findall(r"[A-Za-z]{4,}", shown)) == set()


def test_a_terminal_gets_the_page_set_in_its_width() -> None:
    shown = COLOURS.sub("", on_a_terminal("guide", "guarantees"))
    assert shown.startswith("Guarantees\n==========\n")
    assert max(len(line) for line in shown.splitlines()) <= 80
    assert "- **Feasible**" not in shown
    plain = on_a_terminal("guide", "guarantees", "--plain")
    assert plain == page_of("guarantees").text


def test_a_terminal_without_lines_and_bullets_gets_plain_ones() -> None:
    done = CliRunner(charset="ascii").invoke(group, ["guide", "format", "--width", "80"])
    assert done.exit_code == 0
    assert done.output.isascii()
    assert "?" not in done.output
    assert "\n ------" in done.output


def test_a_misspelt_page_is_told_the_nearest() -> None:
    done = choreo("guide", "garantees")
    assert done.exit_code == 2
    assert "no page `garantees`" in done.output
    assert "Did you mean `guarantees`?" in done.output


def test_json_of_a_page_is_refused() -> None:
    done = choreo("guide", "tour", "--json")
    assert done.exit_code == 2
    assert "leave out PAGE" in done.output


@pytest.mark.parametrize(
    ("word", "meant"), [("plam", "plan"), ("wyh", "why"), ("giude", "guide"), ("PLAN", "plan")]
)
def test_a_misspelt_command_is_told_the_nearest(word: str, meant: str) -> None:
    done = choreo(word)
    assert done.exit_code == 2
    assert f"Did you mean `{meant}`?" in done.output


def test_a_word_like_no_command_is_told_all_of_them() -> None:
    done = choreo("xxxxxxxx")
    assert done.exit_code == 2
    assert "Known here: `new`, `plan`, " in done.output
