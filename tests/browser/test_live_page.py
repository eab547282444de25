"""A page that follows its file, in a browser: edits, sliders, two pages, faults, other sites, a server that is gone."""

from __future__ import annotations

import http.client
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from choreo.live.serving import MOST_PAGES
from tests.answers import FOLDER
from tests.browser.conftest import Watched

# Of the page, until there is a plan: two processes load all there is before.
LOOKS_AT_BEGIN = 2400
SPEED = "walking_speed: 5 km/h"
OTHER_SITE = """<!doctype html><title>other</title><script>
window.became = {};
const socket = new WebSocket(ADDRESS.replace("http", "ws") + "socket");
socket.onopen = () => { became.socket = "open"; };
socket.onclose = () => { became.socket = became.socket || "refused"; };
for (const method of ["GET", "POST"]) {
  const is = (what) => () => { became[method] = what; };
  fetch(ADDRESS, { method, mode: "no-cors" }).then(is("answered"), is("refused"));
}
</script>"""


# What is drawn of a plan whose room isn't known yet, looked at as soon as it is there.
LOOK_EARLY = """() => {
    const look = () => ({
        figures: document.querySelector(".figures").innerText,
        now: document.getElementById("break-off-now").innerText,
        svg: choreo.svg(),
        plan: JSON.stringify(document.getElementById("plan").getBoundingClientRect()),
    });
    window.look = look;
    new MutationObserver(() => {
        if (document.body.classList.contains("room-waits")) window.early = look();
    }).observe(document.body, { attributeFilter: ["class"] });
}"""


class Served:
    """A scenario file that is served by a process of its own, and pages that look at it."""

    def __init__(self, folder: Path, browser: Any) -> None:
        self.folder, self.browser = folder, browser
        for name in ("sites", "fleet"):
            (folder / name).symlink_to(FOLDER / name)
        self.file = folder / "walker.yaml"
        shutil.copy(FOLDER / "walker-nearside.yaml", self.file)
        self.text = self.file.read_text()
        self.contexts: list[Any] = []
        self.address = self.begin()

    def begin(self) -> str:
        """Start the server; gives its address."""
        words = ["show", str(self.file), "--live"]
        words += ["--slider", "walker speed", "--slider", "test_speed"]
        self.server = subprocess.Popen(
            [sys.executable, "-m", "choreo", *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"XDG_STATE_HOME": str(self.folder)},
        )
        assert self.server.stdout is not None
        return self.server.stdout.readline().strip()

    def page(self, width: int, height: int) -> Watched:
        """Open the page in a window of its own and wait for a plan."""
        context = self.browser.new_context(viewport={"width": width, "height": height})
        context.set_default_timeout(20_000)
        self.contexts.append(context)
        watched = Watched(context.new_page(), self.folder)
        watched.page.goto(self.address)
        watched.wait_until("choreoLive.pictures() > 0", LOOKS_AT_BEGIN)
        return watched

    def save(self, old: str, new: str) -> None:
        assert self.text.count(old) == 1
        self.file.write_text(self.text.replace(old, new))

    def end(self) -> None:
        for context in self.contexts:
            context.close()
        self.server.kill()
        self.server.communicate()


@pytest.fixture
def served(tmp_path: Path, browser: Any) -> Iterator[Served]:
    """Give a scenario that is served live."""
    served = Served(tmp_path, browser)
    yield served
    served.end()


def test_a_page_follows_its_file_until_its_server_is_gone_and_again_when_it_is_back(
    served: Served,
) -> None:
    assert served.address.startswith("http://127.0.0.1:")
    first = served.page(1440, 900)
    _all_is_on_the_screen(first)
    _an_edit_is_drawn_in_place(served, first)
    second = served.page(390, 844)
    _the_view_stands_above_the_transport(second)
    _a_slider_moves_both_pages(first, second)
    _what_it_shows_is_written(served, first, second)
    _faults_are_told_over_the_old_plan(served, first)
    _a_file_may_go_and_come_back(served, first)
    _other_sites_are_refused(served)
    _without_its_server_a_page_stays(served, first)
    # What a browser says of connections that end is no fault of the page.
    told = [one for one in (*first.complaints, *second.complaints) if "WebSocket" not in one]
    assert told == []


def _status(watched: Watched) -> str:
    return str(watched.page.inner_text("#live-status"))


def _all_is_on_the_screen(watched: Watched) -> None:
    page = watched.page
    bottom = page.evaluate("document.querySelector('.one-screen').getBoundingClientRect().bottom")
    assert bottom <= 900
    assert page.evaluate("document.documentElement.scrollWidth") <= 1440
    assert "feasible" in _status(watched)
    asked = {urlsplit(url).netloc for url in watched.asked}
    assert asked == {urlsplit(page.url).netloc}, "nothing comes from elsewhere"


def _the_view_stands_above_the_transport(watched: Watched) -> None:
    """On a phone too, with both sliders, before anybody scrolls."""
    page = watched.page
    plan, bar = (page.locator(one).bounding_box() for one in ("#plan", ".transport-bar"))
    assert page.locator(".slider").count() == 2
    assert plan["height"] > 200
    assert plan["y"] + plan["height"] <= bar["y"]


def _an_edit_is_drawn_in_place(served: Served, watched: Watched) -> None:
    """Time, view and what was chosen stay; what was typed into the file is drawn."""
    page = watched.page
    page.select_option("#accel-as", "plain")
    page.select_option("#ride", "ride:walker")
    page.evaluate("choreo.setTime(3.2)")
    page.evaluate("window.same = true")
    before = page.inner_text(".plan-id")
    served.save(SPEED, "walking_speed: 4.8 km/h")
    watched.wait_until("choreoLive.pictures() === 2")
    assert page.inner_text(".plan-id") != before
    assert page.evaluate("[choreo.time(), choreo.view().viewed]") == [3.2, "ride:walker"]
    assert page.input_value("#accel-as") == "plain"
    assert page.evaluate("window.same"), "the page was not loaded anew"
    assert page.evaluate("document.querySelectorAll('body > .sheet').length") == 1
    served.file.write_text(served.text)
    watched.wait_until("choreoLive.pictures() === 3")
    assert page.inner_text(".plan-id") == before


def _a_slider_moves_both_pages(first: Watched, second: Watched) -> None:
    """By keyboard; the time stays, a run sheet is of the file alone."""
    page = first.page
    slider = page.get_by_role("slider", name="walker speed")
    page.evaluate(LOOK_EARLY)
    before = page.evaluate("look()")
    slider.focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    for watched in (first, second):
        watched.wait_until("choreoLive.state().drawn['walker speed'] === 4.8")
    # Verdict, motion and marks come first, with nothing of the room of the plan before; nothing moves meanwhile.
    early, after = page.evaluate("[early, look()]")
    assert early["figures"].count("being computed") == 3
    assert early["now"] == "Breaking off: being computed for this plan"
    assert ("no return" in before["svg"], "no return" in early["svg"]) == (True, False)
    assert "being computed" not in after["figures"] + after["now"]
    assert "no return" in after["svg"]
    assert early["plan"] == after["plan"]
    assert slider.get_attribute("aria-valuetext") == "4.8 km/h, in the file 5 km/h"
    assert _status(second) == "What if walker speed 4.8 km/h instead of 5 km/h: feasible."
    assert page.evaluate("choreo.time()") == 3.2
    assert page.evaluate("document.activeElement.type") == "range"
    assert not page.is_visible("#print")
    assert page.evaluate("document.querySelectorAll('body > .sheet').length") == 0
    assert second.page.evaluate("document.documentElement.scrollWidth") == 390
    # What can't be is answered as such.
    page.keyboard.press("End")
    first.wait_until("document.body.classList.contains('infeasible')")
    first.wait_until("document.body.textContent.includes('What would make it work')")
    page.click("#reset")
    second.wait_until("!document.body.classList.contains('what-if')")
    assert page.is_disabled("#write")


def _what_it_shows_is_written(served: Served, first: Watched, second: Watched) -> None:
    second.page.select_option("#add-slider", "step_out latency")
    second.page.get_by_role("slider", name="step_out latency").focus()
    second.page.keyboard.press("ArrowRight")
    first.wait_until("document.body.classList.contains('what-if')")
    first.page.click("#write")
    for watched in (first, second):
        watched.wait_until("!document.body.classList.contains('what-if')")
        watched.wait_until("choreoLive.state().note.startsWith('Written into the file')")
    assert served.file.read_text() == served.text.replace("latency: 60 ms", "latency: 70 ms")


def _faults_are_told_over_the_old_plan(served: Served, watched: Watched) -> None:
    page = watched.page
    served.save(SPEED, "walking_speed: 5 kmh")
    watched.wait_until("document.body.classList.contains('old')")
    assert "line 16" in page.inner_text("#live-faults")
    assert "Write a quantity, like `5 km/h`." in page.inner_text("#live-faults")
    assert page.is_visible(".one-screen")
    assert not page.is_visible("#print")
    served.file.write_text("movers: [")
    watched.wait_until("!document.querySelector('#live-faults').textContent.includes('line 16')")
    assert "walker.yaml, line" in page.inner_text("#live-faults")


def _a_file_may_go_and_come_back(served: Served, watched: Watched) -> None:
    served.file.unlink()
    told = "there is no file `walker.yaml`"
    watched.wait_until(f"document.querySelector('#live-faults').textContent.includes('{told}')")
    served.file.write_text(served.text)
    watched.wait_until("!document.body.classList.contains('old')")
    assert watched.page.is_hidden("#live-faults")


def _other_sites_are_refused(served: Served) -> None:
    """By a browser that has opened another site, and by the server itself, whatever browsers do."""
    context = served.browser.new_context()
    served.contexts.append(context)
    html = OTHER_SITE.replace("ADDRESS", repr(served.address))
    context.route(
        "http://other.example/**",
        lambda route: route.fulfill(body=html, content_type="text/html"),
    )
    other = Watched(context.new_page(), served.folder)
    other.page.goto("http://other.example/")
    other.wait_until("Object.keys(became).length === 3")
    assert set(other.page.evaluate("Object.values(became)")) == {"refused"}
    home = urlsplit(served.address)
    upgrade = {
        "Upgrade": "websocket", "Connection": "Upgrade",
        "Sec-WebSocket-Version": "13", "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
    }  # fmt: skip
    own = f"http://{home.netloc}"
    answers = {
        (path, method, named): _status_of(home.netloc, method, path, headers)
        for path, method, named, headers in (
            (home.path, "GET", "own", {}),
            (home.path, "GET", "other origin", {"Origin": "http://other.example"}),
            (home.path, "GET", "other host", {"Host": f"other.example:{home.port}"}),
            (home.path, "POST", "own", {"Origin": own}),
            (f"{home.path}socket", "GET", "own", {**upgrade, "Origin": own}),
            (f"{home.path}socket", "GET", "none", upgrade),
            (f"{home.path}socket", "GET", "other", {**upgrade, "Origin": "http://other.example"}),
            ("/", "GET", "own", {}),
            (f"/{'0' * 32}/", "GET", "own", {}),
        )
    }
    assert list(answers.values()) == [200, 403, 403, 405, 101, 403, 403, 404, 404]
    _one_page_too_many_is_told(served, {**upgrade, "Origin": own})


def _one_page_too_many_is_told(served: Served, headers: dict[str, str]) -> None:
    """Who is turned away is told why, not that the server has stopped."""
    home = urlsplit(served.address)
    held = [http.client.HTTPConnection(home.netloc, timeout=10) for _ in range(MOST_PAGES)]
    for one in held:
        one.request("GET", f"{home.path}socket", headers=headers)
        assert one.getresponse().status == 101
    context = served.browser.new_context()
    served.contexts.append(context)
    late = Watched(context.new_page(), served.folder)
    late.page.goto(served.address)
    late.wait_until("document.querySelector('#live-status').innerText.startsWith('Too many pages')")
    context.close()
    for one in held:
        one.close()


def _status_of(host: str, method: str, path: str, headers: dict[str, str]) -> int:
    connection = http.client.HTTPConnection(host, timeout=10)
    try:
        connection.request(method, path, headers=headers)
        return connection.getresponse().status
    finally:
        connection.close()


def _without_its_server_a_page_stays(served: Served, watched: Watched) -> None:
    """Ctrl-C ends it in one line; its page plays on, and follows again when the server is back."""
    page = watched.page
    served.server.send_signal(signal.SIGINT)
    _, told = served.server.communicate(timeout=20)
    assert served.server.returncode == 130
    assert told.splitlines()[-1] == "choreo: interrupted."
    watched.wait_until("document.body.classList.contains('offline')")
    assert _status(watched).startswith("The server has stopped.")
    assert page.is_disabled("#write")
    assert page.get_by_role("slider", name="walker speed").is_disabled()
    page.evaluate("choreo.setTime(5)")
    assert page.inner_text("#clock") == "5.000 s"
    assert served.begin() == served.address
    watched.wait_until("!document.body.classList.contains('offline')", LOOKS_AT_BEGIN)
    served.save(SPEED, "walking_speed: 4.7 km/h")
    watched.wait_until(
        "document.querySelector('#live-status').textContent.includes('as saved')", LOOKS_AT_BEGIN
    )
    assert page.evaluate("choreo.time()") == 5
