"""Whoever is not a page of this very address is refused; the address is hard to guess and stays."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from choreo.live.access import refusal, same_token
from choreo.live.address import ports_for, secret_of_user, token_of

PORT = 50123
OWN = {"Host": f"127.0.0.1:{PORT}"}
OWN_PAGE = {**OWN, "Origin": f"http://127.0.0.1:{PORT}"}


@pytest.mark.parametrize(
    ("headers", "socket", "answered"),
    [
        (OWN, False, True),
        (OWN_PAGE, False, True),
        (OWN_PAGE, True, True),
        ({"Host": f"localhost:{PORT}", "Origin": f"http://localhost:{PORT}"}, True, True),
        # A web socket that no page opens, or a page from elsewhere, whatever it calls itself.
        (OWN, True, False),
        ({**OWN, "Origin": "null"}, False, False),
        ({**OWN, "Origin": "https://other.example"}, False, False),
        ({**OWN, "Origin": f"http://127.0.0.1:{PORT + 1}"}, True, False),
        ({**OWN, "Origin": f"https://127.0.0.1:{PORT}"}, True, False),
        ({**OWN, "Origin": f"http://127.0.0.1:{PORT}.other.example"}, True, False),
        # A name that somebody has pointed to this machine.
        ({"Host": f"other.example:{PORT}", "Origin": f"http://other.example:{PORT}"}, True, False),
        ({"Host": f"other.example:{PORT}"}, False, False),
        ({"Host": "127.0.0.1"}, False, False),
        ({}, False, False),
    ],
)
def test_only_pages_of_this_address_are_answered(
    headers: dict[str, str], socket: bool, answered: bool
) -> None:
    assert (refusal(headers, PORT, socket=socket) == "") is answered


def test_path_is_the_same_for_a_file_and_no_other(tmp_path: Path) -> None:
    secret = b"s" * 32
    token = token_of(tmp_path / "a.yaml", secret)
    assert len(token) == 32
    assert token == token_of(tmp_path / "." / "a.yaml", secret)
    assert token != token_of(tmp_path / "b.yaml", secret)
    assert token != token_of(tmp_path / "a.yaml", b"t" * 32)
    assert same_token(token, token)
    assert not same_token(token[:-1], token)
    assert not same_token("ü" + token[1:], token)
    own, other = ports_for(token)
    assert 49152 <= own <= 65535
    assert other == 0


def test_secret_is_kept_for_its_user_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    secret = secret_of_user()
    assert len(secret) == 32
    assert secret_of_user() == secret
    (file,) = tmp_path.rglob("*secret")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    # Where nothing can be kept there is one for this run.
    monkeypatch.setenv("XDG_STATE_HOME", str(file))
    assert len(secret_of_user()) == 32
    assert secret_of_user() != secret
