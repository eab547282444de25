"""Where a scenario's page is served: a port and a path that nobody guesses, the same each time for the same file.

A page that is still open finds its server again when that is started anew.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

# Ports that nobody is given for good (RFC 6335).
FIRST_PORT, PORTS = 49152, 16384
SECRET_BYTES = 32


def token_of(file: Path, secret: bytes) -> str:
    """Give the path under which a file's page is served: 128 bits that only this user's secret gives."""
    name = os.path.realpath(file).encode("utf-8", "surrogateescape")
    return hmac.new(secret, name, hashlib.sha256).hexdigest()[:32]


def ports_for(token: str) -> Iterator[int]:
    """Give the ports to try: the file's own first, then whichever is free (0)."""
    yield FIRST_PORT + int(token[:8], 16) % PORTS
    yield 0


def secret_of_user() -> bytes:
    """Give this user's secret, made when first asked; one for this run only where it can't be kept."""
    file = _state_folder() / "live-secret"
    with suppress(OSError):
        known = file.read_bytes()
        if len(known) == SECRET_BYTES:
            return known
    made = secrets.token_bytes(SECRET_BYTES)
    with suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as stream:
            stream.write(made)
    return made


def _state_folder() -> Path:
    """Where programs keep what they remember: XDG's place for it, or the user's folder."""
    named = os.environ.get("XDG_STATE_HOME", "")
    return (Path(named) if named else Path.home() / ".local" / "state") / "choreo"
