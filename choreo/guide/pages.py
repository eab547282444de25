"""The pages of the guide: Markdown files beside this one."""

from __future__ import annotations

from importlib.resources import files

from choreo.words import ChoreoError, Finding
from choreo.words.nearest import suggestion
from choreo.words.records import dataclass

# In the order in which to read them.
PAGES = ("tour", "format", "runs", "guarantees", "speed")


@dataclass(frozen=True, slots=True)
class Page:
    """A page of the guide; summary: its first paragraph, a line that says what it holds."""

    name: str
    title: str
    summary: str
    text: str


def all_pages() -> tuple[Page, ...]:
    """Give all pages, in the order in which to read them."""
    return tuple(_read(name) for name in PAGES)


def page_of(name: str) -> Page:
    """Give the page of that name, however its letters are cased. Raises ChoreoError: guide.no-such-page."""
    known = name.strip().lower()
    if known in PAGES:
        return _read(known)
    values = {"name": name, "suggestion": suggestion(known, PAGES)}
    raise ChoreoError((Finding("guide.no-such-page", "error", None, values),))


def _read(name: str) -> Page:
    text = files("choreo.guide").joinpath(f"{name}.md").read_text(encoding="utf-8")
    heading, summary, *_ = text.split("\n\n", 2)
    return Page(name, heading.removeprefix("# "), " ".join(summary.split()), text)
