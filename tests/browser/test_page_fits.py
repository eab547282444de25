"""Screens and paper: phones, dark rooms, printers, keyboards, and hostile words."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from shapely import Polygon

from choreo.ground import Ground
from choreo.page import page_of, sheet_of
from choreo.plans.crew_record import BumperDistance, CrewPlan
from choreo.plans.record import Message
from choreo.plans.room_record import SpacePlan
from choreo.problem import paths_by_mover
from tests.browser.conftest import Show
from tests.unit.page.shown import NAMES, page, planned, sheet, whole

GOOD = [name for name in NAMES if not name.startswith("impossible/")]
EVIL = "</script><img src=x onerror=\"window.evil=1\"><script>window.evil=2</script><b>'x'&amp;"
# The printable width of A4 with the sheet's margins: 210 - 2 x 12 mm at 96 / 25.4 pixels a millimetre.
PAPER_PX = 703


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


@pytest.mark.parametrize("width", [375, 320])
def test_narrow_screens_never_scroll_sideways(width: int, show: Show) -> None:
    watched = show("<!doctype html><title>first</title>", width, 740)
    names = NAMES[:: 2 if width == 375 else 6]
    assert len(names) > 2
    for name in names:
        shown = watched.open(page(name))
        assert shown.evaluate("document.documentElement.scrollWidth") <= width, name


def test_run_sheet_on_a_phone_never_scrolls_sideways(show: Show) -> None:
    shown = show(sheet("cut-out-reveals-stationary"), 375, 740).page
    assert shown.evaluate("document.documentElement.scrollWidth") <= 375


def test_page_without_a_plan_prints_its_budget_on_one_page(show: Show) -> None:
    name = "impossible/runway-too-short-for-the-trigger"
    shown = show(page(name)).page
    assert _pages(shown.pdf(prefer_css_page_size=True)) == 1
    shown.emulate_media(media="print")
    assert shown.locator(".budget").is_visible()
    assert not shown.locator("#plan").is_visible()


def test_no_printed_table_is_clipped(show: Show) -> None:
    look = """() => [...document.querySelectorAll('.sheet table')].filter((t) => {
        const wide = document.documentElement.clientWidth;
        return t.getBoundingClientRect().right > wide + 1
            || [...t.querySelectorAll('th, td')].some((c) => c.scrollWidth > c.clientWidth + 1);
    }).map((t) => t.textContent.slice(0, 60))"""
    watched = show("<!doctype html><title>first</title>", PAPER_PX, 900)
    watched.page.emulate_media(media="print")
    assert len(GOOD) > 10
    for name in GOOD:
        assert watched.open(sheet(name)).evaluate(look) == [], name
        assert len(sheet(name).encode()) < 60_000, name


def test_dark_rooms_get_a_dark_page_and_canvas(show: Show) -> None:
    look = """() => {
        const pixel = document.getElementById('plan').getContext('2d').getImageData(3, 3, 1, 1).data;
        return [getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number)[0], pixel[0]];
    }"""
    light = show(page("walker-nearside")).page.evaluate(look)
    dark = show(page("walker-nearside"), dark=True).page.evaluate(look)
    assert min(light) > 200
    assert max(dark) < 60


def test_every_control_has_a_name_and_is_reached_by_tab(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    nameless = shown.evaluate(
        """() => [...document.querySelectorAll('button, select, input, canvas')].filter((e) =>
            !(e.getAttribute('aria-label') || (e.labels && e.labels.length) || e.textContent.trim())
        ).map((e) => e.id)"""
    )
    assert nameless == []
    reached = set()
    for _ in range(40):
        shown.keyboard.press("Tab")
        reached.add(shown.evaluate("document.activeElement.id"))
    wanted = "fit near closer wider ride ahead zone plan play back forth pace scrub moment print"
    assert set(wanted.split()) - reached == set()


def _hostile(name: str) -> tuple[Any, Any, Any]:
    """The scenario and plan with every mover, trigger and encounter named to do harm."""
    scenario, plan = planned(name)
    new = {old: f"{i} {EVIL}" for i, old in enumerate(scenario.movers)}
    paths = {new[mover]: path for mover, path in paths_by_mover(scenario).items()}
    scenario = replace(
        scenario, title=EVIL, about=EVIL, source_files=(f"{EVIL}.yaml",),
        movers={new[mover]: one for mover, one in scenario.movers.items()},
        encounters={
            f"{EVIL}{old}": replace(one, of=new[one.of], with_=new[one.with_])
            for old, one in scenario.encounters.items()
        },
    )  # fmt: skip
    movers = {
        new[mover]: replace(
            one, launched_by=EVIL if one.launched_by not in {"go", "time"} else one.launched_by,
            events=tuple(replace(event, name=f"{event.name} {EVIL}") for event in one.events),
            pieces=tuple(replace(piece, phase=f"{piece.phase} {EVIL}") for piece in one.pieces),
        )
        for mover, one in plan.movers.items()
    }  # fmt: skip
    triggers = {
        f"{EVIL}{old}": replace(
            one, watch=new[one.watch], acts_on=tuple(new[m] for m in one.acts_on), to=EVIL
        )
        for old, one in plan.triggers.items()
    }
    encounters = {
        f"{EVIL}{old}": replace(one, of=new[one.of], with_=new[one.with_])
        for old, one in plan.encounters.items()
    }
    evil = replace(
        plan,
        title=EVIL,
        space=_hostile_space(plan.space, new),
        crew=_hostile_crew(plan.crew, new),
        movers=movers,
        triggers=triggers,
        encounters=encounters,
        verification=replace(
            plan.verification,
            spread={f"{EVIL}{old}": ends for old, ends in plan.verification.spread.items()},
        ),
        critical_chain=(EVIL,),
    )
    return scenario, evil, paths


def _hostile_space(space: SpacePlan | None, new: dict[str, str]) -> SpacePlan:
    """What is known of room, told of movers and encounters by their harmful names, with a failure in such words."""
    assert space is not None
    return replace(
        space,
        clear=False,
        clearances=tuple(
            replace(pair, a=new[pair.a], b=new[pair.b], meets_s=None) for pair in space.clearances
        ),
        stops={new[name]: stop for name, stop in space.stops.items()},
        no_return=tuple(
            replace(
                one,
                encounter=f"{EVIL}{one.encounter}",
                who=new.get(one.who, one.who),
                before_m={new[name]: left for name, left in one.before_m.items()},
            )
            for one in space.no_return
        ),
        failures=(Message(EVIL, "error", EVIL, EVIL, EVIL),),
    )


def _hostile_crew(crew: CrewPlan | None, new: dict[str, str]) -> CrewPlan:
    """The crew's lists with every phase and place named to do harm."""
    assert crew is not None
    programmes = {
        new[name]: replace(
            one,
            legs=tuple(replace(leg, phase=f"{leg.phase} {EVIL}") for leg in one.legs),
            places=tuple(replace(place, name=EVIL) for place in one.places),
        )
        for name, one in crew.programmes.items()
    }
    first, second = list(new.values())[:2]
    return CrewPlan(programmes, (BumperDistance(EVIL, 0.0, first, second, 1.0, 1.0, True),))


def _hostile_ground(ground: Ground | None) -> Ground:
    assert ground is not None
    (area,) = ground.areas
    hut = Polygon([(0, 0), (9, 0), (9, 9), (0, 9)])
    return replace(
        ground,
        title=EVIL,
        areas=(replace(area, name=EVIL), replace(area, name=f"2 {EVIL}")),
        obstacles={EVIL: hut, f"2 {EVIL}": hut},
    )


def test_hostile_names_do_nothing(show: Show) -> None:
    scenario, plan, paths = _hostile("walker-nearside")
    ground = _hostile_ground(whole("walker-nearside").ground)
    for text in (
        page_of(scenario, plan, paths, ground),
        sheet_of(scenario, plan, paths, ground),
    ):
        watched = show(text, 375, 740)
        shown = watched.page
        assert shown.evaluate("window.evil") is None
        assert shown.locator("img, b > b").count() == 0
        assert shown.text_content("h1") == EVIL
        assert [url for url in watched.asked if not url.startswith("file:")] == []
        assert watched.complaints == []
        assert shown.evaluate("document.documentElement.scrollWidth") <= 375


def test_hostile_names_are_shown_as_written_and_the_page_still_plays(show: Show) -> None:
    scenario, plan, paths = _hostile("walker-nearside")
    ground = _hostile_ground(whole("walker-nearside").ground)
    watched = show(page_of(scenario, plan, paths, ground))
    watched.page.evaluate("choreo.setTime(8)")
    assert EVIL[:18] in watched.page.text_content("#break-off-now")
    assert EVIL in watched.page.text_content(".screen .failed")
    assert EVIL in watched.page.text_content("#readout")
    assert list(watched.page.evaluate("choreo.poses()")) == list(plan.movers)
    assert watched.page.evaluate("window.evil") is None
    assert watched.complaints == []
