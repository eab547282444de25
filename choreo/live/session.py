"""What all open pages see and want, and what is to be planned next; it knows neither network nor processes.

Only the newest counts: of many moves of a slider the last one, of many saves the last one; a page that is slow gets
the newest picture and never those between, so that nothing piles up.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, field
from datetime import datetime
from typing import Any, Protocol

from choreo.live.slider import MOST_SLIDERS, Slider
from choreo.words.display import how_many
from choreo.words.records import dataclass

Told = dict[str, Any]


class Page(Protocol):
    """An open page."""

    def send(self, text: str) -> None:
        """Send it something, whenever it can take it."""
        ...


@dataclass()
class Wanted:
    """What is to be planned next: the file as saved, values put into it, what sliders show; in that order."""

    saved: bool = False
    write: Mapping[str, float] | None = None
    shown: Mapping[str, float] | None = None

    def take(self) -> Told | None:
        """Give the next job, which is then no longer wanted; None where there is none."""
        if self.saved:
            job: Told = {"do": "saved"}
            self.saved = False
        elif self.write is not None:
            job = {"do": "write", "shown": self.write}
            self.write = None
        elif self.shown is not None:
            job = {"do": "what-if", "shown": self.shown}
            self.shown = None
        else:
            return None
        return job

    def again(self, job: Told) -> None:
        """Want a job once more, of a process that knows nothing yet: the file itself comes first."""
        self.saved = True
        if job["do"] == "write" and self.write is None:
            self.write = job["shown"]
        if job["do"] == "what-if" and self.shown is None:
            self.shown = job["shown"]


@dataclass()
class _Open:
    """What a page has: numbers of picture, state and first; whether it has yet to say that it drew what was sent."""

    picture: int = 0
    state: int = -1
    first: int = 0
    waits: bool = False


@dataclass()
class Session:
    """One scenario file, its pages, its plan.

    wants: called when there is something to plan; follow: with the files to look at; say: with a line for whoever
    started the server.
    """

    file: str
    wants: Callable[[], None]
    follow: Callable[[list[str]], None]
    say: Callable[[str], None]
    wanted: Wanted = field(default_factory=Wanted)
    refused: list[dict[str, str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._pages: dict[Page, _Open] = {}
        self._sliders: dict[str, Slider] = {}
        self._offered: dict[str, Slider] = {}
        self._shown: dict[str, float] = {}
        self._pictures, self._states, self._planned = 0, 0, False
        self._picture, self._of_file = "null", "null"
        # What is known of a plan before the whole picture, as long as that is under way.
        self._first, self._firsts = "", 0
        self._state: Told = {
            "file": self.file, "busy": True, "faults": [], "old": False, "verdict": "", "told": "",
            "what_if": {}, "drawn": {}, "note": "",
        }  # fmt: skip

    @property
    def pages(self) -> tuple[Page, ...]:
        """All that are open."""
        return tuple(self._pages)

    @property
    def planned(self) -> bool:
        """Whether the file has been planned, or its faults are known."""
        return self._planned

    # ---- pages ----

    def joined(self, page: Page) -> None:
        """A page has opened: it gets all there is."""
        self._pages[page] = _Open()
        self._send(page)

    def left(self, page: Page) -> None:
        """A page has gone."""
        self._pages.pop(page, None)

    def heard(self, page: Page, message: object) -> None:
        """Do what a page asks; what makes no sense is left alone."""
        if not isinstance(message, dict):
            return
        asked, name = message.get("do"), message.get("name")
        if asked == "drawn" and page in self._pages:
            self._pages[page].waits = False
            self._send(page)
        elif asked == "move":
            self._moved(name, message.get("value"))
        elif asked == "pick" and isinstance(name, str):
            self._picked(name)
        elif asked == "drop" and isinstance(name, str) and name in self._sliders:
            del self._sliders[name]
            if self._shown.pop(name, None) is not None:
                self._ask_shown()
            self._tell()
        elif asked == "reset" and self._shown:
            self._shown.clear()
            self._ask_shown()
        elif asked == "write" and self._shown:
            self.wanted.write = dict(self._shown)
            self.wants()

    def _moved(self, name: object, value: object) -> None:
        slider = self._sliders.get(name) if isinstance(name, str) else None
        if slider is None or isinstance(value, bool) or not isinstance(value, int | float):
            return
        if not slider.holds(value):
            return
        if value == slider.value:
            self._shown.pop(slider.name, None)
        else:
            self._shown[slider.name] = float(value)
        self._ask_shown()

    def _picked(self, name: str) -> None:
        one = self._offered.get(name)
        if one is None or one.place in self._places() or len(self._sliders) >= MOST_SLIDERS:
            return
        self._sliders[name] = one
        self._tell()

    def _places(self) -> set[str]:
        return {one.place for one in self._sliders.values()}

    def _ask_shown(self) -> None:
        self.wanted.shown = dict(self._shown)
        self._state["what_if"] = dict(self._shown)
        self._state["note"] = ""
        self.wants()
        self._tell()

    # ---- the file ----

    def saved(self) -> None:
        """The file, or one that it names, has other bytes: what sliders show gives way to it."""
        self._shown.clear()
        self._first = ""
        self.wanted.shown = None
        self.wanted.saved = True
        self._state |= {"busy": True, "what_if": {}}
        if self.wanted.write is not None:
            self.wanted.write = None
            self._state["note"] = "Not written: the file was saved meanwhile."
        self.wants()
        self._tell()

    # ---- the process that plans ----

    def begun(self, job: Told) -> None:
        """A job is under way; what takes long is said to be."""
        if job["do"] == "saved" and not self._state["busy"]:
            self._state["busy"] = True
            self._tell()

    def answered(self, job: Told, told: Told) -> None:
        """Take an answer of the process that plans in."""
        if job["do"] == "write":
            self._written(told)
            return
        state, self._planned, self._first = self._state, True, ""
        state["busy"] = self.wanted.saved
        state["faults"] = told["faults"]
        if "files" in told:
            self.follow(told["files"])
        if "picked" in told:
            self._take_sliders(told)
        if told.get("picture") is not None:
            self._pictures += 1
            self._picture = json.dumps(told["picture"])
            state["drawn"] = dict(job.get("shown") or {})
            if not state["drawn"]:
                self._of_file = self._picture
        elif job["do"] == "saved" and state["drawn"]:
            # What the file was before its faults, not what somebody tried.
            self._pictures += 1
            self._picture, state["drawn"] = self._of_file, {}
        # A page keeps the last plan that there was, and says that it is not the present one.
        state["old"] = bool(told["faults"]) and self._pictures > 0
        if not told.get("more"):
            state["verdict"] = told.get("verdict", "")
            self._say_how_long(job, told)
        self._tell()

    def glimpsed(self, first: Told) -> None:
        """Take in what is known before the whole picture."""
        self._first, self._firsts = json.dumps({"first": first}), self._firsts + 1
        for page in list(self._pages):
            self._send(page)

    def died(self) -> None:
        """The process that plans has ended, and another one begins when something is asked again."""
        fault = {
            "place": "",
            "text": "planning ended by a fault of this program",
            "advice": "Save the file again, or change it; please report the scenario.",
        }
        self._state |= {"busy": False, "faults": [fault], "old": self._pictures > 0}
        self._tell()

    def _take_sliders(self, told: Told) -> None:
        """Sliders as the file has them now; those that were picked on the page stay where they still exist."""
        self._offered = {one["name"]: Slider(**one) for one in told["offered"]}
        picked = {one["name"]: Slider(**one) for one in told["picked"]}
        places = {one.place for one in picked.values()}
        for name in self._sliders:
            one = self._offered.get(name)
            if one is not None and one.place not in places:
                picked[name] = one
        self._sliders = picked
        self.refused = told["refused"]

    def _written(self, told: Told) -> None:
        if told.get("not_written"):
            first = told["not_written"][0]
            self._state["note"] = f"Not written. {first['text']} {first['advice']}".strip()
        else:
            self._state["note"] = f"Written into the file: {', '.join(told['written'])}."
        self._tell()

    def _say_how_long(self, job: Told, told: Told) -> None:
        at = datetime.now().strftime("%H:%M:%S")
        took = f"{told['seconds']:.2f} s"
        if job["do"] == "saved":
            count = len(told["faults"])
            became = told.get("verdict") or how_many(count, "fault")
            self.say(f"{at} {became}, {took}")
        self._state["told"] = f"{at}, planned in {took}"

    def _tell(self) -> None:
        self._states += 1
        for page in list(self._pages):
            self._send(page)

    def _send(self, page: Page) -> None:
        """Send a page what it doesn't have, if it has drawn what it got."""
        has = self._pages[page]
        if has.waits:
            return
        if has.state == self._states:
            if self._first and has.first != self._firsts:
                has.first, has.waits = self._firsts, True
                page.send(self._first)
            return
        places = self._places()
        state = {
            **self._state,
            "sliders": [asdict(one) for one in self._sliders.values()],
            "offered": [one.name for one in self._offered.values() if one.place not in places],
        }
        picture = self._picture if has.picture != self._pictures else "null"
        has.picture, has.state, has.waits = self._pictures, self._states, True
        page.send(f'{{"state":{json.dumps(state)},"picture":{picture}}}')
