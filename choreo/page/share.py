"""The page of a shared site: everybody plays in the plan view, over a place-time diagram."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from choreo.page.data import embedded
from choreo.page.document import SIGNS, head_html
from choreo.page.markup import about_html, failed_html, filled, read, section_html, text, told
from choreo.report.content import Content
from choreo.words.caution import CAUTION


def share_page(content: Content, about: str, data: Mapping[str, Any]) -> str:
    """Write the page of a shared site as one HTML file.

    content: what is told of it. data: kinds of lap as samples, everybody's laps by the clock, stays and waits.
    """
    style, script = read("page.css") + read("share.css"), read("share.js")
    return filled(
        "share.html",
        head=head_html(content.title, (style,), (script,)),
        title=text(content.title),
        verdict=text(content.verdict),
        sign=SIGNS[content.verdict],
        headline=text(content.headline),
        about=about_html(about),
        summary=told(content.summary),
        caution=text(CAUTION),
        failed=failed_html(content),
        tables="".join(section_html(section) for section in content.sections),
        data=embedded(data),
        script=script,
    )
