"""What may be off, as files say it: what is read, in SI, and what is told about what can't be."""

import math
from pathlib import Path

import pytest

from choreo.scenario import ErrorSource, Scenario, Spread, loads
from choreo.words import ChoreoError, Finding
from tests.unit.scenario.example import WALKER

KMH = 1 / 3.6
HERE = "    start: {station: free}"
STEP_OUT = "latency: 60 ms"


def text_with(errors: str, latency: str = "60 ms") -> str:
    text = WALKER.replace(HERE, f"    errors: {errors}\n{HERE}", 1)
    return text.replace(STEP_OUT, f"latency: {latency}")


def with_errors(errors: str, latency: str = "60 ms") -> Scenario:
    return loads(text_with(errors, latency), "a.yaml", Path())


def faults_of(errors: str, latency: str = "60 ms") -> tuple[Finding, ...]:
    with pytest.raises(ChoreoError) as caught:
        with_errors(errors, latency)
    return caught.value.findings


def test_every_source_of_a_mover_is_read_in_si() -> None:
    found = with_errors(
        "{speed held: 0.36 km/h, speed wander: {size: 0.72 km/h, over: 3 s}, "
        "start mark: {along: 5 cm, beside: -1 cm +/- 2 cm}, "
        "path: {offset: -0.02..0.04 m, wander: {size: 0.02 m, over: 20 m}}, position: 20 mm, "
        "achieved acceleration: 98 % +/- 2 %, achieved braking: 3 %, launch: 20 +/- 10 ms}"
    ).errors
    assert [(one.kind, one.owner, one.over) for one in found] == [
        ("speed held", "subject", None),
        ("start along", "subject", None),
        ("start beside", "subject", None),
        ("path offset", "subject", None),
        ("position", "subject", None),
        ("achieved acceleration", "subject", None),
        ("achieved braking", "subject", None),
        ("launch", "subject", None),
        ("speed wander", "subject", 3.0),
        ("path wander", "subject", 20.0),
    ]
    told = [(one.spread.shape, one.spread.middle, one.spread.size) for one in found]
    numbers = [0.0, 0.1, 0.0, 0.05, -0.01, 0.02, 0.01, 0.03, 0.0, 0.02, 0.98, 0.02, 1.0, 0.03]
    numbers += [0.02, 0.01, 0.0, 0.2, 0.0, 0.02]
    assert [number for one in told for number in one[1:]] == pytest.approx(numbers)
    assert [one[0] for one in told] == ["normal"] * 3 + ["uniform"] + ["normal"] * 6
    assert all(one.given for one in found)


@pytest.mark.parametrize(
    ("text", "planned_s", "spread"),
    [
        ("60 ms", 0.06, None),
        ("60 ms +/- 10 ms", 0.06, Spread("normal", 0.0, 0.01, -0.06)),
        ("60 ± 10 ms", 0.06, Spread("normal", 0.0, 0.01, -0.06)),
        ("0.05..70 ms", 0.035025, Spread("uniform", 0.0, 0.034975, -0.035025)),
        ("40 ms +/- 0 s", 0.04, Spread("normal", 0.0, 0.0, -0.04)),
    ],
)
def test_latency_of_a_trigger_is_planned_with_its_mean(
    text: str, planned_s: float, spread: Spread | None
) -> None:
    scenario = with_errors("{}", text)
    assert scenario.triggers["step_out"].latency_s == pytest.approx(planned_s)
    if spread is None:
        assert scenario.errors == ()
    else:
        (found,) = scenario.errors
        assert (found.kind, found.owner, found.spread.shape) == (
            "latency",
            "step_out",
            spread.shape,
        )
        assert found.spread.size == pytest.approx(spread.size)
        assert found.spread.least == pytest.approx(spread.least)


@pytest.mark.parametrize(
    ("errors", "where", "what", "instead"),
    [
        (
            "{speed held: -0.3 km/h}",
            "speed held",
            "`-0.3 km/h` is a standard deviation",
            "`0.3 km/h`",
        ),
        ("{position: 1 cm +/- -2 cm}", "position", "`-2 cm` is a standard deviation", "`2 cm`"),
        ("{speed wander: {size: -1 km/h, over: 3 s}}", "size", "none is negative", "`1 km/h`"),
        ("{achieved braking: 98 %}", "achieved braking", "spreads so far", "`98 % +/- 2 %`"),
        ("{achieved braking: 250 % +/- 2 %}", "achieved braking", "no drive achieves", "98 %"),
        ("{achieved braking: 98 % +/- 120 %}", "achieved braking", "spreads so far", "98 %"),
        ("{achieved acceleration: -5..50 %}", "achieved acceleration", "no drive achieves", "98 %"),
        ("{launch: -20 ms +/- 10 ms}", "launch", "mostly negative", "`20 ms +/- 10 ms`"),
        ("{speed held: 0.3 m}", "speed held", "`0.3 m` is a length; a speed is wanted", "km/h"),
        ("{speed held: 0.3 km/h +/- 2 s}", "speed held", "`2 s` is a time", "km/h"),
        ("{speed held: 0.3}", "speed held", "has no unit", "`0.3 km/h`"),
        ("{speed held: 40 km/h}", "speed held", "no error round what is planned", "up to 20 km/h"),
        ("{position: 5..3 cm}", "position", "ends below its beginning", "smaller end first"),
        ("{path: {wander: {size: 1..2 cm, over: 9 m}}}", "size", "not one standard", "0.02 m"),
        ("{speed wander: {size: 1 km/h, over: 0 s}}", "over", "more than zero", "2 s"),
    ],
)
def test_what_cannot_be_is_told_at_its_place_with_what_to_write(
    errors: str, where: str, what: str, instead: str
) -> None:
    (fault,) = faults_of(errors)
    key = errors.index(where + ":") + len(where) + 2
    assert fault.origin is not None
    line = text_with(errors).splitlines()[fault.origin.line - 1]
    assert line[fault.origin.column - 1 :] == errors[key:]
    assert what in fault.text
    assert instead in fault.advice


@pytest.mark.parametrize("latency", ["-60 ms +/- 10 ms", "-30..10 ms", "0 s +/- 10 ms"])
def test_latency_that_is_mostly_negative_is_refused(latency: str) -> None:
    (fault,) = faults_of("{}", latency)
    assert f"`{latency}` is mostly negative" in fault.text
    assert "`60 ms +/- 10 ms`" in fault.advice


@pytest.mark.parametrize(
    ("errors", "advice"),
    [
        ("{latency: 60 ms}", "at the trigger"),
        ("{along: 2 cm}", "`start mark: {along"),
        ("{offset: 2 cm}", "`path: {offset"),
        ("{sped held: 1 km/h}", "`speed held`"),
        ("{start mark: 2 cm}", "`start mark: {along: 2 cm}`"),
    ],
)
def test_misplaced_key_is_told_where_it_belongs(errors: str, advice: str) -> None:
    (fault,) = faults_of(errors)
    assert advice in fault.text + fault.advice


def test_errors_beside_the_movers_are_told_to_belong_to_one() -> None:
    with pytest.raises(ChoreoError) as caught:
        loads(WALKER + "errors: {ghost: {speed held: 1 km/h}}\n", "a.yaml", Path())
    (fault,) = caught.value.findings
    assert "inside one of `movers`" in fault.text + fault.advice


def test_errors_of_a_fleet_hold_where_the_mover_says_nothing(tmp_path: Path) -> None:
    fleet = """\
choreo fleet: 1
movers:
  car:
    body: {length: 4 m, width: 1.8 m}
    errors: {speed held: 1 km/h, launch: 5 ms, start mark: {along: 1 cm, beside: 2 cm}}
"""
    (tmp_path / "fleet.yaml").write_text(fleet)
    text = text_with("{speed held: 2 km/h, start mark: {along: 3 cm}}").replace(
        "  subject:\n", "  subject:\n    like: car\n", 1
    )
    scenario = loads(f"{text}fleet: fleet.yaml\n", "a.yaml", tmp_path)
    sizes = {one.kind: one.spread.size for one in scenario.errors}
    wanted = {"speed held": 2 * KMH, "start along": 0.03, "start beside": 0.02, "launch": 0.005}
    assert sizes == pytest.approx(wanted)
    broken = fleet.replace("launch: 5 ms", "launch: -5 ms")
    (tmp_path / "fleet.yaml").write_text(broken)
    with pytest.raises(ChoreoError) as caught:
        loads(f"{text}fleet: fleet.yaml\n", "a.yaml", tmp_path)
    (fault,) = caught.value.findings
    assert fault.origin is not None
    assert (Path(fault.origin.file).name, fault.origin.line) == ("fleet.yaml", 5)


def test_error_that_its_mover_cannot_have_is_warned_of_where_it_is_written() -> None:
    text = WALKER.replace(
        "    kind: pedestrian\n", "    kind: pedestrian\n    errors: {launch: 5 ms}\n"
    )
    scenario = loads(text, "a.yaml", Path())
    assert scenario.errors == ()
    (note,) = (one for one in scenario.notes if one.code == "scenario.error-idle")
    assert "write the trigger's latency" in note.text
    assert note.severity == "warning"


def test_errors_change_no_nominal_plan() -> None:
    plain = loads(WALKER, "a.yaml", Path())
    off = with_errors("{speed held: 1 km/h}", "60 ms +/- 10 ms")
    assert off.errors == (
        ErrorSource("speed held", "subject", Spread("normal", 0.0, pytest.approx(KMH))),
        ErrorSource("latency", "step_out", Spread("normal", 0.0, 0.01, pytest.approx(-0.06))),
    )
    assert off.meaning() == plain.meaning()


def test_distribution_without_a_cut_has_none() -> None:
    (speed,) = with_errors("{speed held: 1 km/h}").errors
    assert speed.spread.least == -math.inf


def with_tolerances(tolerances: str) -> Scenario:
    text = WALKER.replace(HERE, f"    tolerances: {tolerances}\n{HERE}", 1)
    return loads(text, "a.yaml", Path())


def test_tolerances_are_read_in_si_either_way_or_with_two_ends() -> None:
    found = with_tolerances("{speed: 0..1 km/h, beside: +/- 5 cm, limits: 5 %, from: contact}")
    tolerances = found.tolerances["subject"]
    assert tolerances.speed_mps == pytest.approx((0.0, KMH))
    assert tolerances.beside_m == pytest.approx((-0.05, 0.05))
    assert tolerances.limits_ratio == pytest.approx(0.05)
    assert tolerances.since is not None
    assert (tolerances.since.kind, tolerances.since.name) == ("encounter", "contact")
    assert found.meaning() == loads(WALKER, "a.yaml", Path()).meaning()


@pytest.mark.parametrize(
    ("tolerances", "what", "instead"),
    [
        ("{speed: 1..2 km/h}", "leaves out what is planned itself", "`0.5 km/h`"),
        ("{speed: -1 km/h}", "leaves out what is planned itself", "`0.5 km/h`"),
        ("{speed: 0 km/h}", "is met by no run", "`0.5 km/h`"),
        ("{speed: 40 km/h}", "no tolerance round what is planned", "up to 20 km/h"),
        ("{speed: 0.5 m}", "is a length; a speed is wanted", "km/h"),
        ("{speed: nan km/h}", "nan km/h", ""),
        ("{beside: 5 cm +/- 1 cm}", "two ends", "`0.05 m`"),
        ("{limits: -5 %}", "no share of a limit", "`5 %`"),
        ("{limits: 120 %}", "no share of a limit", "`5 %`"),
        ("{from: contact}", "`speed`, `beside` or `limits` is missing", "`tolerances: {speed"),
        ("{speed: 1 km/h, from: nowhere}", "no encounter, trigger or instant named", "contact"),
        ("{sped: 1 km/h}", "`sped` is not known", "speed"),
    ],
)
def test_tolerance_that_cannot_be_is_told_with_what_to_write(
    tolerances: str, what: str, instead: str
) -> None:
    with pytest.raises(ChoreoError) as caught:
        with_tolerances(tolerances)
    (fault,) = caught.value.findings
    assert fault.origin is not None
    assert (
        "tolerances"
        in WALKER.replace(HERE, f"    tolerances: x\n{HERE}", 1).splitlines()[fault.origin.line - 1]
    )
    assert what in fault.text
    assert instead in fault.text + fault.advice
