"""A real browser without a network; where there is none these tests skip, but in CI they fail."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

try:
    from playwright.sync_api import sync_playwright
except ImportError:
    sync_playwright = None  # type: ignore[assignment]

ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--no-first-run", "--disable-quic",
)  # fmt: skip
PROGRAMS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def _missing(what: str) -> None:
    """Skip with a reason; with CI=true a missing browser is a failure."""
    reason = f"{what}: pages can't be tried (pip install playwright; apt-get install chromium)"
    if os.environ.get("CI", "").lower() == "true":
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Give one Chromium for all tests of a worker."""
    program = next((found for name in PROGRAMS if (found := shutil.which(name))), None)
    if sync_playwright is None:
        _missing("playwright is not installed")
    if program is None:
        _missing("no Chromium is installed")
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=program, args=list(ARGUMENTS))
        yield running
        running.close()


class Watched:
    """A page that has written down what it asked for and what it complained about."""

    def __init__(self, page: Any, folder: Path) -> None:
        self.page = page
        self.folder = folder
        self.asked: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("dialog", lambda dialog: (self.complaints.append(dialog.message), dialog.dismiss()))

    def open(self, text: str) -> Any:
        """Write HTML to disk and open it; gives the page."""
        file = self.folder / f"{len(list(self.folder.iterdir()))}.html"
        file.write_text(text, encoding="utf-8")
        self.page.goto(file.as_uri())
        return self.page

    def wait_until(self, condition: str, looks: int = 400) -> None:
        """Wait for a condition; the page's own policy forbids playwright's way of evaluating text."""
        for _ in range(looks):
            if self.page.evaluate(condition):
                return
            self.page.wait_for_timeout(25)
        pytest.fail(f"never came true: {condition}")


def _only_from_disk(route: Any) -> None:
    if route.request.url.startswith("file:"):
        route.continue_()
    else:
        route.abort()


Show = Callable[..., Watched]


@pytest.fixture
def show(browser: Any, tmp_path: Path) -> Iterator[Show]:
    """Give a function that opens HTML from disk, offline: show(text, width, height, dark)."""
    contexts = []

    def opened(text: str, width: int = 1366, height: int = 768, *, dark: bool = False) -> Watched:
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
            offline=True,
        )
        contexts.append(context)
        context.route("**/*", _only_from_disk)
        context.set_default_timeout(10_000)
        watched = Watched(context.new_page(), tmp_path)
        watched.open(text)
        return watched

    yield opened
    for context in contexts:
        context.close()
