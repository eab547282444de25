"""Ids of published figures in the tests and the list of their sources hold each other."""

import re
from pathlib import Path

HERE = Path(__file__).parent
ID = re.compile(r"\bC\d\d\d?\b")
STATUSES = ("SEEN", "SEEN-2", "MEMORY", "DERIVED")


def _rows() -> list[list[str]]:
    lines = (HERE / "SOURCES.md").read_text().splitlines()
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [row for row in rows if ID.fullmatch(row[0])]


def _documents() -> set[str]:
    lines = (HERE / "SOURCES.md").read_text().splitlines()
    begin = lines.index("| short | document |")
    table = lines[begin + 2 : lines.index("", begin)]
    return {one.strip() for line in table for one in line.split("|")[1].split(",")}


def test_every_id_in_the_tests_has_a_source_and_every_source_is_used() -> None:
    used = {one for file in HERE.glob("*.py") for one in ID.findall(file.read_text())}
    assert used == {row[0] for row in _rows()}
    assert len(used) > 40


def test_every_source_stands_once_with_document_section_and_how_it_was_seen() -> None:
    rows = _rows()
    assert [row[0] for row in rows] == sorted(
        {row[0] for row in rows}, key=lambda name: int(name[1:])
    )
    for name, figure, documents, section, seen in rows:
        assert figure, name
        assert section, name
        assert set(documents.split(", ")) <= _documents(), name
        assert any(status in seen for status in STATUSES), name


def test_every_document_of_the_list_is_used() -> None:
    assert {one for row in _rows() for one in row[2].split(", ")} == _documents()
