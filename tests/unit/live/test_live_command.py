"""`choreo show --live` says in one line why it serves nothing."""

from __future__ import annotations

import importlib.util
import socket
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from choreo.commands.entry import group
from tests.answers import FOLDER

FILE = str(FOLDER / "walker-nearside.yaml")


def _refused(*words: str) -> Result:
    done = CliRunner().invoke(group, ["show", *words])
    assert done.exit_code == 2
    assert "http://" not in done.output
    return done


def test_without_its_extra_it_names_the_command_that_installs_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    found = importlib.util.find_spec
    monkeypatch.setattr(
        "choreo.commands.lives.find_spec", lambda name: None if name == "tornado" else found(name)
    )
    told = _refused(FILE, "--live").output
    assert told == "show --live needs a package that isn't installed: pip install 'choreo[live]'\n"


def test_what_can_not_be_served_is_refused(tmp_path: Path) -> None:
    assert "there is no file" in _refused(str(tmp_path / "none.yaml"), "--live").output
    campaign = str(FOLDER / "campaigns" / "frontal-grids.yaml")
    assert "is a campaign" in _refused(campaign, "--live").output
    assert "go with --live" in _refused(FILE, "--slider", "walker speed").output
    assert "no OTHER" in _refused(FILE, "--live", "--sheet").output
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        told = _refused(FILE, "--live", "--port", port).output
    assert told.startswith(f"port {port} can't be served on:")
