"""`import choreo` as its users see it."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

import choreo
from choreo import library

ROOT = Path(__file__).resolve().parents[3]
SCENARIOS = ROOT / "scenarios"


def test_the_face_is_the_library_and_the_stub_says_the_same() -> None:
    stub = (ROOT / "choreo" / "__init__.pyi").read_text()
    assert re.findall(r" as (\w+)$", stub, re.MULTILINE) == library.__all__
    assert list(choreo.NAMES) == library.__all__
    assert all(getattr(choreo, name) is getattr(library, name) for name in library.__all__)


def test_importing_choreo_imports_nothing_heavy() -> None:
    code = (
        "import sys, choreo\n"
        "sys.exit(bool({'numpy', 'casadi', 'pydantic', 'shapely'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_unknown_names_are_refused() -> None:
    with pytest.raises(AttributeError, match="plam"):
        choreo.plam  # type: ignore[attr-defined] # noqa: B018


def test_plan_is_verified_and_has_its_room() -> None:
    scenario = choreo.load(SCENARIOS / "walker-nearside.yaml")
    answer = choreo.plan(scenario)
    assert answer.clear
    assert answer.plan.space is not None
    verification = choreo.verify(scenario, answer.plan)
    assert verification.agrees
    assert verification.measured["contact"] == pytest.approx(0.0, abs=1e-6)


def test_explained_repairs_have_quantities_and_values_in_si() -> None:
    file = SCENARIOS / "impossible" / "runway-too-short-for-the-trigger.yaml"
    found = choreo.explain(choreo.plan(choreo.load(file)))
    change = found.repairs[0].changes[0]
    assert (change.quantity.name, change.quantity.unit) == ("subject run-up path", "m")
    # Runway 180 m, ramp 90.638 m, settle 44.444 m, trigger 88.889 m before (closed forms): 43.971 m short.
    assert change.value == pytest.approx(1043.972, abs=1e-3)


@pytest.mark.parametrize(
    "code", ["space.too-slippery", "space.rate-over-surface", "space.leaves-site"]
)
def test_what_the_site_forbids_is_never_called_clear(code: str) -> None:
    scenario = choreo.load(SCENARIOS / "faulty" / f"{code}.yaml")
    try:
        answer = choreo.plan(scenario)
    except choreo.ChoreoError as error:
        codes = {finding.code for finding in error.findings}
    else:
        assert not answer.clear
        space = answer.plan.space
        codes = set() if space is None else {failure.code for failure in space.failures}
    assert code in codes


def test_placement_on_another_site_and_without_ground() -> None:
    scenario = choreo.load(SCENARIOS / "junction-crossing.yaml")
    placement = choreo.place(scenario, SCENARIOS / "sites" / "l-pad.yaml")
    assert placement.verdict == "found"
    assert placement.best is not None
    assert placement.best.margin_m > 30
    bare = choreo.load(SCENARIOS / "faulty" / "problem.loose-mover.yaml")
    with pytest.raises(ValueError, match="site"):
        choreo.place(bare)
