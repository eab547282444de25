"""Pages: one file each, small, complete, and nothing an author wrote can run."""

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from choreo.page import page_of
from choreo.page.data import data_of, embedded
from choreo.plans.message import Message
from choreo.plans.record import Budget, BudgetLine, Conflict
from choreo.problem import paths_by_mover
from tests.unit.page.shown import NAMES, page, planned

MOST_BYTES = 300_000
EVIL = "</script><script>alert(1)</script><img src=x onerror=alert(2)>\" ' & \u2028"


class Elements(HTMLParser):
    """Collects what a browser would see: elements, their attributes, and ends that don't match."""

    VOID = frozenset({"meta", "input", "br", "link", "img"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


def _embedded_data(text: str) -> dict[str, object]:
    (found,) = re.findall(r'<script type="application/json" id="plan-data">(.*?)</script>', text)
    return json.loads(found)


@pytest.mark.parametrize("name", NAMES)
def test_every_bundled_scenario_gives_a_small_whole_page(name: str) -> None:
    text = page(name)
    assert len(text.encode()) < MOST_BYTES
    elements = Elements(text)
    assert (elements.wrong, elements.open) == ([], [])
    assert (
        re.findall(
            r"\$\{?[a-z]+\}?(?=[<\s\"])", re.sub(r"<script>.*?</script>", "", text, flags=re.S)
        )
        == []
    )
    scenario, plan = planned(name)
    data = _embedded_data(text)
    assert [m["name"] for m in data["movers"]] == list(scenario.movers)  # type: ignore[attr-defined]
    assert plan.fingerprint in text
    assert "An independent means of stopping every mover must exist" in text
    assert "Not modelled: tyres beyond the friction and slope of the site file" in text


def test_nothing_is_loaded_from_elsewhere() -> None:
    elements = Elements(page("walker-nearside")).found
    assert {"script", "style", "svg"} <= {tag for tag, _ in elements}
    for tag, attributes in elements:
        assert tag not in {"link", "img", "iframe", "object", "embed", "base"}
        assert not {"src", "href", "action", "style"} & set(attributes)
        assert not [key for key in attributes if key.startswith("on")]
    assert "@import" not in page("walker-nearside")
    assert "url(http" not in page("walker-nearside")


def test_policy_lets_only_the_pages_own_script_run() -> None:
    (policy,) = [
        a["content"] for t, a in Elements(page("walker-nearside")).found if "http-equiv" in a
    ]
    assert policy is not None
    assert "default-src 'none'" in policy
    assert re.search(r"script-src 'sha256-[A-Za-z0-9+/=]{44}';", policy)
    assert "unsafe" not in policy


@pytest.mark.parametrize("text", [EVIL, "<!--<script>", "]]>", "\\u003c/script\\u003e"])
def test_embedded_json_cannot_end_its_element_and_reads_back(text: str) -> None:
    written = embedded({"name": text})
    assert not set("<>&\u2028\u2029") & set(written)
    assert json.loads(written) == {"name": text}


def _hostile_page() -> str:
    scenario, plan = planned("impossible/runway-too-short-for-the-trigger")
    budget = Budget(
        EVIL, EVIL, EVIL, BudgetLine(EVIL, 1.0, EVIL), (BudgetLine(EVIL, 2.0, EVIL),), 1.0
    )
    message = Message(EVIL, "warning", EVIL, EVIL, EVIL)
    evil = replace(
        plan, title=EVIL, budgets=(budget,), warnings=(message,), repairs=(message,),
        conflicts=(Conflict(EVIL, 1.0, EVIL, EVIL),), fingerprint=EVIL, tried=(EVIL,),
    )  # fmt: skip
    return page_of(replace(scenario, title=EVIL, about=EVIL), evil, paths_by_mover(scenario))


def test_hostile_words_add_no_element_and_no_attribute() -> None:
    honest = Elements(page("impossible/runway-too-short-for-the-trigger"))
    hostile = Elements(_hostile_page())
    assert (hostile.wrong, hostile.open) == ([], [])
    tags = {tag for tag, _ in hostile.found}
    assert tags <= {tag for tag, _ in honest.found} | {
        "table",
        "thead",
        "tbody",
        "tr",
        "td",
        "th",
        "ul",
        "li",
    }
    assert sum(tag == "script" for tag, _ in hostile.found) == 2
    assert not [
        a for _, a in hostile.found if any(key.startswith("on") or key == "src" for key in a)
    ]


def test_a_budget_that_does_not_fit_runs_past_the_line() -> None:
    text = page("impossible/runway-too-short-for-the-trigger")
    # 180 m there, 223.971 m needed: the line stands at 96 % x 180 / 223.971 of the width.
    limit = f"{96 * 180 / 223.9711934:.2f}%"
    assert f'class="limit" x1="{limit}"' in text
    (start,) = set(re.findall(r'class="over" x="([\d.]+%)"', text))
    assert start == limit
    assert "43.971 m" in text
    assert 'id="play"' not in text


def test_a_budget_with_several_rooms_and_none_still_adds_up() -> None:
    scenario, plan = planned("impossible/runway-too-short-for-the-trigger")
    # 10 + 5 there; 12 + 8 needed; 5 too much, which is a quarter of what is needed.
    several = Budget(
        "two rooms", "", "s", BudgetLine("room", 10.0, None),
        (BudgetLine("need", 12.0, None), BudgetLine("more room", -5.0, None), BudgetLine("other", 8.0, None)), 5.0,
    )  # fmt: skip
    none = Budget(
        "no room",
        "",
        "s",
        BudgetLine("another need", -3.0, None),
        (BudgetLine("need", 1.0, None),),
        4.0,
    )
    text = page_of(scenario, replace(plan, budgets=(several, none)), paths_by_mover(scenario))
    bars = re.findall(r'<rect class="(\w+)" x="([-\d.]+)%" y="4" width="([-\d.]+)%"', text)
    assert [(kind, float(x), float(wide)) for kind, x, wide in bars] == [
        ("has", 0.0, 48.0), ("has", 48.0, 24.0),
        ("fits", 0.0, 57.6), ("fits", 57.6, 14.4), ("over", 72.0, 24.0), ("short", 72.0, 24.0),
        ("over", 0.0, 72.0), ("over", 72.0, 24.0), ("short", 0.0, 96.0),
    ]  # fmt: skip


def test_undecided_page_shows_the_nearest_miss_first() -> None:
    scenario, plan = planned("impossible/runway-too-short-for-the-trigger")
    miss = Conflict("settle before contact", 1.25, "s", "lane.yaml:12:3")
    undecided = replace(plan, verdict="undecided", budgets=(), conflicts=(miss,))
    text = page_of(scenario, undecided, paths_by_mover(scenario))
    assert "settle before contact by 1.25 s" in text
    assert text.index("settle before contact") < text.index('id="plan"')
    assert "UNDECIDED" in text
    assert ("what would have to give" in text, "here the simulation disagrees" in text) == (
        True,
        False,
    )
    simulated = replace(undecided, verification=planned("walker-nearside")[1].verification)
    text = page_of(scenario, simulated, paths_by_mover(scenario))
    assert ("what would have to give" in text, "here the simulation disagrees" in text) == (
        False,
        True,
    )


def test_an_encounter_that_the_simulation_finds_elsewhere_is_marked() -> None:
    scenario, plan = planned("walker-nearside")
    (name,), paths = plan.encounters, paths_by_mover(scenario)
    check = plan.verification
    assert check is not None
    met = plan.encounters[name]

    def doubted(share: float, agrees: bool) -> bool:
        off = replace(met, predicted=met.wanted[1] + share * met.tolerance)
        other = replace(plan, encounters={name: off}, verification=replace(check, agrees=agrees))
        (drawn,) = data_of(scenario, other, paths, None)["encounters"]
        return bool(drawn["doubted"])

    # A tenth of the tolerance is allowed; where the simulation agrees nothing is marked.
    assert [doubted(0.05, False), doubted(0.2, False), doubted(0.2, True)] == [False, True, False]


def test_only_a_feasible_plan_prints_a_run_sheet() -> None:
    scenario, plan = planned("walker-nearside")
    doubtful = page_of(scenario, replace(plan, verdict="undecided"), paths_by_mover(scenario))
    assert '<article class="sheet">' in page("walker-nearside")
    assert '<article class="sheet">' not in doubtful
    assert 'id="play"' in doubtful


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("highest-speed", "highest subject speed"),
        ("following-platoon", "it drifts by"),
        ("circle-at-lateral", "not part of the timed run"),
    ],
)
def test_what_was_preferred_held_and_comes_after_is_on_the_page(name: str, words: str) -> None:
    assert words in page(name).split("<script")[0]
