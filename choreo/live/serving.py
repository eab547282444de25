"""The page and its web socket, on this machine alone. tornado is known here and nowhere else."""

from __future__ import annotations

import asyncio
import json
import os
import socket
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from tornado.httpserver import HTTPServer
from tornado.httputil import HTTPServerRequest
from tornado.iostream import StreamClosedError
from tornado.web import Application, RequestHandler
from tornado.websocket import WebSocketClosedError, WebSocketHandler

from choreo.live.access import HOME, refusal, same_token
from choreo.live.address import ports_for, secret_of_user, token_of
from choreo.live.session import Session
from choreo.live.watching import Watch
from choreo.live.worker import Worker, planning_of

# Files are looked at so often (s); a save is seen after two looks at most.
LOOKS_S = 0.025
# What a page says is a name and a number.
LONGEST_MESSAGE_BYTES = 4096
MOST_PAGES = 20
# The page is there when the process that plans has loaded all that it needs; so long (s) that is waited for.
PATIENCE_S = 60
# A page that has gone without a word is forgotten after so long (s).
PING_S = 20


class Live:
    """A scenario file's page, as long as it is served."""

    def __init__(
        self, file: Path, asked: tuple[str, ...], say: Callable[[str], None], port: int | None
    ) -> None:
        """asked: sliders by name. say: with lines for the terminal. port: None for the file's own.

        Raises OSError: the port is taken.
        """
        self.token = token_of(file, secret_of_user())
        self.sockets = _bound(self.token, port)
        self.port = int(self.sockets[0].getsockname()[1])
        self.watch = Watch([str(file)])
        self.worker = Worker(planning_of(str(file), asked))
        self.session = Session(file.name, self.worker.wake, self.watch.follow, say)
        self.worker.session = self.session

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://{HOME}:{self.port}/{self.token}/"

    async def serve(self) -> list[dict[str, str]]:
        """Serve until cancelled, or until the first plan shows that sliders were asked for that there are none of.

        Returns the faults of those.
        """
        server = HTTPServer(self._application(), max_header_size=16_384, max_body_size=0)
        server.add_sockets(self.sockets)
        planning = asyncio.create_task(self.worker.run())
        self.session.saved()
        first = True
        try:
            while not planning.done():
                await asyncio.sleep(LOOKS_S)
                if self.watch.changed():
                    self.session.saved()
                if first and self.session.planned:
                    first = False
                    if self.session.refused:
                        return self.session.refused
            await planning
            return []
        finally:
            server.stop()
            planning.cancel()
            with suppress(asyncio.CancelledError):
                await planning

    def _application(self) -> Application:
        # No other path, no other method: whatever else is asked for is not there.
        return Application(
            [
                (r"/([0-9a-f]{32})/", _Page, {"live": self}),
                (r"/([0-9a-f]{32})/socket", _Socket, {"live": self}),
            ],
            default_handler_class=_NotThere,
            default_handler_args={"live": self},
            websocket_ping_interval=PING_S,
            websocket_max_message_size=LONGEST_MESSAGE_BYTES,
            log_function=_say_nothing,
        )


def _say_nothing(_handler: RequestHandler) -> None:
    """A page that is refused is no business of whoever looks at the terminal."""


def _bound(token: str, port: int | None) -> list[socket.socket]:
    """Sockets of this machine alone; the file's own port, or another where that is taken."""
    tried = [port] if port is not None else list(ports_for(token))
    for one in tried[:-1]:
        with suppress(OSError):
            return [_listening(one)]
    return [_listening(tried[-1])]


def _listening(port: int) -> socket.socket:
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            # A server that is started anew need not wait for connections of the one before.
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.setblocking(False)
        made.bind((HOME, port))
        made.listen()
    except OSError:
        made.close()
        raise
    return made


class _Guarded(RequestHandler):
    """Answers only whom access.py lets."""

    opens_socket = False

    def initialize(self, live: Live) -> None:
        self.live = live

    def set_default_headers(self) -> None:
        self.clear_header("Server")
        for name, value in {
            "Cache-Control": "no-store",
            "Referrer-Policy": "no-referrer",
            "X-Content-Type-Options": "nosniff",
            "X-Frame-Options": "DENY",
            "Cross-Origin-Resource-Policy": "same-origin",
            "Cross-Origin-Opener-Policy": "same-origin",
        }.items():
            self.set_header(name, value)

    def prepare(self) -> None:
        why = refusal(self.request.headers, self.live.port, socket=self.opens_socket)
        token = self.path_args[0] if self.path_args else ""
        if why:
            self._end(403, why)
        elif not same_token(token, self.live.token):
            self._end(404, "there is no such page")

    def write_error(self, status_code: int, **_told: object) -> None:
        self._end(status_code, "this server has one page and its web socket")

    def _end(self, status: int, words: str) -> None:
        self.set_status(status)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(f"{words}\n")


class _NotThere(_Guarded):
    """Every other path."""


class _Page(_Guarded):
    async def get(self, _token: str) -> None:
        worker = self.live.worker
        with suppress(TimeoutError):
            await asyncio.wait_for(worker.has_page.wait(), PATIENCE_S)
        if not worker.has_page.is_set():
            self._end(503, "planning could not be begun; the terminal says why")
            return
        self.set_header("Content-Type", "text/html; charset=utf-8")
        policy = f"{worker.policy}; connect-src ws://{self.request.host}"
        self.set_header("Content-Security-Policy", policy)
        self.write(worker.page)


class _Socket(_Guarded, WebSocketHandler):
    opens_socket = True

    def __init__(self, application: Application, request: HTTPServerRequest, live: Live) -> None:
        super().__init__(application, request, live=live)

    def check_origin(self, origin: str) -> bool:
        """Looked at in prepare, with everything else."""
        return not refusal(self.request.headers, self.live.port, socket=True)

    def open(self, *_token: str) -> None:
        if len(self.live.session.pages) >= MOST_PAGES:
            self.close(1013, "too many pages are open")
            return
        self.set_nodelay(True)
        self.live.session.joined(self)

    def on_message(self, message: str | bytes) -> None:
        with suppress(ValueError, RecursionError):
            self.live.session.heard(self, json.loads(message))

    def on_close(self) -> None:
        self.live.session.left(self)

    def send(self, text: str) -> None:
        """Send a page what the session has for it."""
        with suppress(WebSocketClosedError, StreamClosedError):
            self.write_message(text)
