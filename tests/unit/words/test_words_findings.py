"""Findings and the messages made of them, parted by how grave they are."""

from choreo.plans.message import messages_of
from choreo.words import Finding, Origin, errors_of, remarks_of

ERROR = Finding("site.no-anchor", "error", None)
WARNING = Finding("scenario.unused-trigger", "warning", None, {"trigger": "go"})
NOTE = Finding("scenario.implied-stop", "note", None, {"mover": "subject", "braking": "service"})


def test_errors_and_remarks_are_all_findings_in_their_order() -> None:
    found = [NOTE, ERROR, WARNING]
    assert errors_of(found) == (ERROR,)
    assert remarks_of(found) == (NOTE, WARNING)


def test_messages_are_parted_alike() -> None:
    messages = messages_of([WARNING, ERROR, NOTE])
    assert [one.code for one in errors_of(messages)] == ["site.no-anchor"]
    assert [one.severity for one in remarks_of(messages)] == ["warning", "note"]


def test_no_value_can_steer_a_terminal_or_break_the_line() -> None:
    values = {"key": "a\x1b[2Jb\nFEASIBLE\u202e", "where": "\x9b", "suggestion": "\x07"}
    finding = Finding("scenario.unknown-key", "error", Origin("a\x1b]0;.yaml", 1, 1), values)
    assert finding.text == "`a<1b>[2Jb<a>FEASIBLE<202e>` is not known in <9b>"
    assert finding.advice == "<7>"
    assert str(finding.origin) == "a<1b>]0;.yaml:1:1"
