"""The view follows the story: the whole run, both partners of what comes next, and back; what is seen can be kept."""

from __future__ import annotations

import math
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from tests.browser.conftest import Show
from tests.unit.page.shown import page, planned

PAGES = ("walker-nearside", "braking-lead-time-gap", "two-encounters")


def bodies(shown: Any) -> dict[str, list[list[float]]]:
    """Corners of every body in pixels of the plan view."""
    found: dict[str, list[list[float]]] = shown.evaluate("choreo.bodies()")
    return found


def size(shown: Any) -> tuple[float, float]:
    box = shown.locator("#plan").bounding_box()
    return box["width"], box["height"]


@pytest.mark.parametrize(("wide", "high", "least"), [(1440, 900, 12.0), (390, 844, 6.0)])
@pytest.mark.parametrize("name", PAGES)
def test_widest_body_of_the_whole_run_can_be_seen(
    name: str, wide: int, high: int, least: float, show: Show
) -> None:
    shown = show(page(name), wide, high).page
    assert shown.evaluate("choreo.view().viewed") == "story"
    # All runs here go along x: a body's width is its height on the screen.
    heights = [max(y for _, y in one) - min(y for _, y in one) for one in bodies(shown).values()]
    assert max(heights) >= least - 0.01


def test_bodies_of_a_wide_run_are_drawn_larger_and_that_is_written(show: Show) -> None:
    shown = show(page("junction-crossing"), 1440, 900).page
    sides = [
        min(math.dist(a, b) for a, b in pairwise([*one, one[0]])) for one in bodies(shown).values()
    ]
    assert max(sides) == pytest.approx(12.0, abs=0.1)
    assert re.search(r"bodies drawn 2\.\d times as large", shown.evaluate("choreo.svg()"))
    # A close-up needs none of it.
    (one,) = planned("junction-crossing")[1].encounters.values()
    shown.evaluate(f"choreo.setTime({one.time_s})")
    assert "times as large" not in shown.evaluate("choreo.svg()")


def test_both_partners_are_seen_whole_where_they_meet(show: Show) -> None:
    name = "two-encounters"
    shown = show(page(name), 1440, 900).page
    whole = shown.evaluate("choreo.view().scale")
    encounters = planned(name)[1].encounters
    assert encounters
    for one in encounters.values():
        shown.evaluate(f"choreo.setTime({one.time_s})")
        wide, high = size(shown)
        corners = [corner for who in (one.of, one.with_) for corner in bodies(shown)[who]]
        assert 0.0 < min(x for x, _ in corners) <= max(x for x, _ in corners) < wide
        assert 0.0 < min(y for _, y in corners) <= max(y for _, y in corners) < high
        assert shown.evaluate("choreo.view().scale") > whole
        assert shown.evaluate("choreo.view().across") == 1.0
    shown.evaluate("choreo.setTime(0)")
    assert shown.evaluate("choreo.view().scale") == whole


def test_a_hand_on_the_view_ends_the_story_and_it_can_be_taken_up_again(show: Show) -> None:
    shown = show(page("walker-nearside"), 1440, 900).page
    shown.focus("#plan")
    shown.keyboard.press("+")
    mine = shown.evaluate("choreo.view()")
    assert mine["viewed"] == "free"
    shown.evaluate("choreo.setTime(10)")
    assert shown.evaluate("choreo.view()") == mine
    shown.select_option("#ride", "story")
    assert shown.evaluate("choreo.view().scale") > mine["scale"]


def test_a_wide_drag_does_not_lose_the_picture(show: Show) -> None:
    shown = show(page("walker-nearside"), 1440, 900).page
    box = shown.locator("#plan").bounding_box()
    for _ in range(6):
        shown.mouse.move(box["x"] + 20, box["y"] + 20)
        shown.mouse.down()
        shown.mouse.move(box["x"] + box["width"] - 20, box["y"] + box["height"] - 20)
        shown.mouse.up()
    wide, high = size(shown)
    corners = [corner for one in bodies(shown).values() for corner in one]
    assert any(0.0 < x < wide and 0.0 < y < high for x, y in corners)


def test_an_address_opens_at_its_time_and_view(show: Show) -> None:
    shown = show(page("two-encounters"), 1440, 900).page
    first = next(iter(planned("two-encounters")[1].encounters))
    shown.goto(f"{shown.url}#t=3.25&view={first}")
    shown.reload()
    assert shown.evaluate("choreo.time()") == pytest.approx(3.25)
    assert shown.evaluate("choreo.view().viewed") == first
    shown.select_option("#ride", label="subject")
    shown.click(".more summary")
    shown.click("#copy-link")
    assert shown.url.endswith("#t=3.25&view=ride%3Asubject")


def test_the_picture_is_saved_as_svg_and_png(show: Show, tmp_path: Path) -> None:
    shown = show(page("walker-nearside"), 1440, 900).page
    shown.evaluate("choreo.setTime(10.4)")
    shown.click(".more summary")
    with shown.expect_download() as svg:
        shown.click("#save-svg")
    assert svg.value.suggested_filename == "adult-from-the-right-40-km-h-10.40s.svg"
    svg.value.save_as(tmp_path / "kept.svg")
    drawn = ElementTree.parse(tmp_path / "kept.svg").getroot()
    texts = {one.text for one in drawn.iter("{http://www.w3.org/2000/svg}text")}
    assert {"subject", "walker", "contact", "N"} <= texts
    with shown.expect_download() as png:
        shown.click("#save-png")
    png.value.save_as(tmp_path / "kept.png")
    assert (tmp_path / "kept.png").read_bytes()[:4] == b"\x89PNG"


def test_the_run_is_saved_as_an_animated_picture_and_as_frames(show: Show, tmp_path: Path) -> None:
    shown = show(page("walker-nearside"), 900, 500).page
    meets = planned("walker-nearside")[1].encounters["contact"].time_s
    shown.click("#loop")
    before = shown.evaluate("choreo.time()")
    assert meets - 2.0 <= before < meets
    shown.click(".more summary")
    with shown.expect_download() as run:
        shown.click("#save-run")
    run.value.save_as(tmp_path / "run.png")
    chunks = list(_chunks((tmp_path / "run.png").read_bytes()))
    kinds = [kind for kind, _ in chunks]
    # The loop from 2 s before to 1.2 s after, ten pictures a second and both ends.
    count = 33
    assert struct.unpack(">II", dict(chunks)[b"acTL"]) == (count, 0)
    assert kinds.count(b"fcTL") == count
    assert kinds.index(b"IDAT") < kinds.index(b"fdAT")
    numbers = [
        struct.unpack(">I", data[:4])[0] for kind, data in chunks if kind in {b"fcTL", b"fdAT"}
    ]
    assert numbers == list(range(len(numbers)))
    with shown.expect_download() as frames:
        shown.click("#save-frames")
    frames.value.save_as(tmp_path / "run.zip")
    with zipfile.ZipFile(tmp_path / "run.zip") as kept:
        assert kept.testzip() is None
        assert kept.namelist() == [f"frame-{k:04}.png" for k in range(1, count + 1)]
        first, last = (kept.read(kept.namelist()[k]) for k in (0, -1))
    assert first != last
    assert dict(_chunks(first))[b"IHDR"] == dict(chunks)[b"IHDR"]
    assert "33 pictures, one each 100 ms" in shown.inner_text("#kept")


def _chunks(png: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and data of the chunks of a PNG file, their sums checked."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    at = 8
    while at < len(png):
        (long,) = struct.unpack(">I", png[at : at + 4])
        body = png[at + 4 : at + 8 + long]
        assert zlib.crc32(body) == struct.unpack(">I", png[at + 8 + long : at + 12 + long])[0]
        yield body[:4], body[4:]
        at += 12 + long


def test_the_loop_goes_round_the_encounter(show: Show) -> None:
    watched = show(page("walker-nearside"), 1440, 900)
    shown = watched.page
    meets = planned("walker-nearside")[1].encounters["contact"].time_s
    shown.click("#loop")
    assert shown.evaluate("choreo.playing()")
    assert meets - 2.0 <= shown.evaluate("choreo.time()") < meets
    shown.select_option("#pace", "4")
    for _ in range(2):
        watched.wait_until(f"choreo.time() > {meets}")
        watched.wait_until(f"choreo.time() < {meets}")
    shown.keyboard.press("L")
    assert shown.get_attribute("#loop", "aria-pressed") == "false"
