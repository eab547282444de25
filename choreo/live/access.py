"""Who may ask: pages of this very address, and nobody that another page sends."""

from __future__ import annotations

import hmac
from collections.abc import Mapping

HOME = "127.0.0.1"


def refusal(headers: Mapping[str, str], port: int, *, socket: bool = False) -> str:
    """Say why a request is refused, or give nothing where it is not.

    A page of another site can make a browser ask here, by a name that it has pointed to this machine too: Host tells
    the name, Origin the page (RFC 9110 section 7.2, RFC 6454). headers: of the request. socket: it opens a web socket,
    for which browsers always tell the origin (RFC 6455 section 4.1), so it must be there.
    """
    if headers.get("Host", "").lower() not in _names(port):
        return "this server answers by its own address only"
    origin = headers.get("Origin")
    if origin is None:
        return "a web socket comes from a page" if socket else ""
    if origin.lower() not in {f"http://{name}" for name in _names(port)}:
        return "pages of other sites are not answered"
    return ""


def same_token(given: str, token: str) -> bool:
    """Compare the path that was asked for with the secret one, in a time that tells nothing of it."""
    return hmac.compare_digest(given.encode(), token.encode())


def _names(port: int) -> set[str]:
    return {f"{HOME}:{port}", f"localhost:{port}"}
