"""Faulty files that load: what geometry and the event graph find in them, each at its `# here`."""

from pathlib import Path

import pytest

from choreo.pace import with_drives
from choreo.problem import build_staging, paths_by_mover, structural_findings
from choreo.scenario import load
from choreo.words import CATALOGUE, ChoreoError, Finding
from tests.unit.scenario.example import FAULTY

AREAS = ("geometry.", "problem.")
# What the scenario layer refuses first; these guard callers who build paths themselves.
WITHOUT_FILE = {
    "geometry.piece-empty",
    "geometry.mark-twice",
    "geometry.survey-too-few",
    "geometry.survey-repeats",
    "geometry.beside-unknown",
    "geometry.beside-loop",
}
FILES = [path for path in sorted(FAULTY.glob("*.yaml")) if path.stem.startswith(AREAS)]


def findings_of(path: Path) -> tuple[Finding, ...]:
    scenario = load(path)
    try:
        scenario = with_drives(scenario, paths_by_mover(scenario))
        staging = build_staging(scenario)
    except ChoreoError as error:
        return error.findings
    return (*staging.notes, *structural_findings(staging.problem))


def test_catalogue_and_faulty_files_are_equal() -> None:
    codes = {code for code in CATALOGUE if code.startswith(AREAS)}
    assert {path.stem for path in FILES} == codes - WITHOUT_FILE


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_faulty_file_gives_its_own_code_at_its_place(path: Path) -> None:
    found = findings_of(path)
    assert {finding.code for finding in found} == {path.stem}
    lines = path.read_text(encoding="utf-8").splitlines()
    wanted = {number for number, line in enumerate(lines, 1) if line.endswith("# here")}
    assert {finding.origin.line for finding in found if finding.origin} == wanted
