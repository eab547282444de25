"""A saved plan is well only if its room is what a new survey finds."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from choreo.commands.entry import group
from tests.unit.room.surveyed_runs import area, scenario_text, site_text

PAD = area("pad", -20, -20, 320, 20, ", friction: 0.9")


def run(*arguments: str) -> tuple[int, str]:
    """Exit code and all that is printed."""
    done = CliRunner().invoke(group, list(arguments))
    return done.exit_code, done.output


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    """A folder with a scenario, its site and its plan."""
    (tmp_path / "site.yaml").write_text(site_text(PAD), encoding="utf-8")
    (tmp_path / "a.yaml").write_text(scenario_text(), encoding="utf-8")
    code, _ = run("plan", str(tmp_path / "a.yaml"), "-o", str(tmp_path / "plan.json"))
    assert code == 0
    return tmp_path


def checked(folder: Path) -> tuple[int, str]:
    """What `choreo check --plan` says."""
    return run("check", str(folder / "a.yaml"), "--plan", str(folder / "plan.json"))


def test_plan_of_an_unchanged_site_is_well(saved: Path) -> None:
    code, said = checked(saved)
    assert (code, "well" in said) == (0, True)


def test_plan_of_a_site_that_has_changed_is_not(saved: Path) -> None:
    smaller = PAD.replace("320", "60")
    (saved / "site.yaml").write_text(site_text(smaller), encoding="utf-8")
    code, said = checked(saved)
    assert code == 1
    assert "another state of this scenario" in said


@pytest.mark.parametrize(
    ("what", "value"),
    [
        ("clearances", []),
        ("no_return", []),
        ("keep_out", None),
        ("clear", False),
        ("caution", ""),
    ],
)
def test_plan_whose_room_was_changed_by_hand_is_not(saved: Path, what: str, value: Any) -> None:
    # One mover alone has no clearances and nothing to break off: those are made up instead.
    document = json.loads((saved / "plan.json").read_text(encoding="utf-8"))
    made_up = {
        "clearances": [
            {"a": "subject", "b": "x", "least_m": 9.0, "time_s": 1.0, "x_m": 0.0, "y_m": 0.0}
        ],
        "no_return": [
            {
                "encounter": "e",
                "who": "all",
                "state": "always",
                "margin_m": 0.5,
                "time_s": None,
                "before_s": None,
            }
        ],
    }
    document["space"][what] = made_up.get(what, value)
    (saved / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    code, said = checked(saved)
    assert code == 1
    assert "new survey" in said
    assert what in said


def test_plan_that_must_not_be_run_is_not_called_well(tmp_path: Path) -> None:
    narrow = area("pad", -20, -1.0, 320, 20)
    (tmp_path / "site.yaml").write_text(site_text(narrow), encoding="utf-8")
    (tmp_path / "a.yaml").write_text(scenario_text(), encoding="utf-8")
    code, said = run("plan", str(tmp_path / "a.yaml"), "-o", str(tmp_path / "plan.json"))
    assert code == 1
    assert "FEASIBLE, NOT CLEAR" in said
    code, said = checked(tmp_path)
    assert code == 1
    assert "do not run this plan" in said


def test_runway_changed_by_hand_is_told(saved: Path) -> None:
    document = json.loads((saved / "plan.json").read_text(encoding="utf-8"))
    document["movers"]["subject"]["runway"]["required_m"] = 10.0
    (saved / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    code, said = checked(saved)
    assert (code, "runway of subject" in said) == (1, True)


@pytest.mark.parametrize(
    ("keys", "value"),
    [
        (("verdict",), "ok"),
        (("prefer",), "cheapest"),
        (("movers", "subject", "phases", 0, "kind"), "glide"),
        (("movers", "subject", "events", 0, "kind"), "start"),
    ],
)
def test_kind_that_there_is_none_of_makes_a_broken_plan(
    saved: Path, keys: tuple[str | int, ...], value: str
) -> None:
    document = json.loads((saved / "plan.json").read_text(encoding="utf-8"))
    holder = document
    for key in keys[:-1]:
        holder = holder[key]
    holder[keys[-1]] = value
    (saved / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    code, said = checked(saved)
    assert code == 2
    assert f"`{' > '.join(map(str, keys))}` is none of '" in " ".join(said.split())


def test_plan_saved_before_events_and_pieces_named_their_phase_is_well(saved: Path) -> None:
    document = json.loads((saved / "plan.json").read_text(encoding="utf-8"))
    # Nor were there lists for the crew then.
    del document["crew"]
    mover = document["movers"]["subject"]
    del mover["phases"]
    for event in mover["events"]:
        del event["kind"], event["phase"]
    for piece in mover["pieces"]:
        del piece["phase_index"]
    (saved / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    code, said = checked(saved)
    assert (code, "well" in said) == (0, True)


def test_plan_that_differs_by_rounding_and_in_what_is_not_modelled_is_well(saved: Path) -> None:
    document = json.loads((saved / "plan.json").read_text(encoding="utf-8"))

    def stirred(value: Any) -> Any:
        """Every float by a hair, as another version of a library would have it."""
        if isinstance(value, float):
            return value * (1 + 1e-11)
        if isinstance(value, dict):
            return {key: stirred(one) for key, one in value.items()}
        return [stirred(one) for one in value] if isinstance(value, list) else value

    document["space"] = stirred(document["space"])
    document["crew"] = stirred(document["crew"])
    (ring,) = document["space"]["keep_out"]["polygons"][0]
    # The same zone, told by one point more.
    ring.insert(1, [(ring[0][0] + ring[1][0]) / 2, (ring[0][1] + ring[1][1]) / 2])
    document["space"]["not_modelled"] = ["rain"]
    (saved / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    code, said = checked(saved)
    assert (code, "well" in said) == (0, True), said


@pytest.mark.parametrize(("key", "value"), [("station_m", 1.0), ("rate_mps2", 2.5)])
def test_programme_changed_by_hand_is_told(saved: Path, key: str, value: float) -> None:
    document = json.loads((saved / "plan.json").read_text(encoding="utf-8"))
    leg = document["crew"]["programmes"]["subject"]["legs"][0]
    (leg if key in leg else leg["begins"])[key] = value
    (saved / "plan.json").write_text(json.dumps(document), encoding="utf-8")
    code, said = checked(saved)
    assert (code, "crew" in said) == (1, True)


def test_plan_of_another_scenario_is_told_by_both_titles_in_json_too(saved: Path) -> None:
    text = (saved / "a.yaml").read_text(encoding="utf-8")
    (title,) = re.findall(r"^title: (.*)$", text, re.MULTILINE)
    changed = text.replace(f"title: {title}", "title: Another one").replace("km/h", "mph")
    (saved / "a.yaml").write_text(changed, encoding="utf-8")
    code, said = checked(saved)
    assert code == 1
    assert f"another scenario: `{title}`, not `Another one`" in said
    again = CliRunner().invoke(
        group,
        ["check", str(saved / "a.yaml"), "--plan", str(saved / "plan.json"), "--json"],
    )
    document = json.loads(again.stdout)
    assert (again.exit_code, document["well"]) == (1, False)
    assert [one["code"] for one in document["faults"]] == ["plan.scenario-changed"]
