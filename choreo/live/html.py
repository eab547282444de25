"""The page that follows: the parts of a page that plays, in a shell that takes pictures in."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from string import Template

from choreo.page.document import SCRIPT, policy, style_of_plan
from choreo.page.markup import read, text


def live_page(file: str) -> str:
    """Write the page of a scenario file, before it has a plan; file: its name."""
    return Template(_read("live.html")).substitute(
        title=text(file), file=text(file), style=_style(), script=_script()
    )


def live_policy() -> str:
    """Only the page's own style and script; in no frame of another page. Where it may connect to is not in it."""
    return f"{policy((_style(),), (_script(),))}; frame-ancestors 'none'"


@cache
def _style() -> str:
    return style_of_plan() + _read("live.css")


@cache
def _script() -> str:
    """What plays a plan as a function that is called for each, and what keeps up with the server."""
    plays = "\n".join(read(f"script/{name}.js") for name in SCRIPT)
    kept, live = _read("kept.js"), _read("live.js")
    return (
        f'"use strict";\n(() => {{\nconst playPlan = () => {{\n{plays}\n{kept}}};\n{live}}})();\n'
    )


def _read(name: str) -> str:
    return (files("choreo.live") / name).read_text(encoding="utf-8")
