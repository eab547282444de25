"""Structures that no other family has, every rate, speed and setting given: each must be decided, and its twins alike.

Drawn are chains of triggers, two encounters of one mover, pauses, somebody who backs out, laps, followers, gaps that
hold round a bend, rolling starts. Nobody knows the verdict; but a twin that is mirrored, or whose movers stand in
another order, has the same one, and one whose marks are those of a plan has a plan.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from choreo.case import answer, case_at
from choreo.plans.record import Plan
from choreo.scenario import loads
from choreo.words import ChoreoError
from tests.harness.compare import CRASHED, FEASIBLE, FILE, REFUSED, UNDECIDED
from tests.harness.draws import Rng, draw
from tests.harness.records import number

STRAIGHT = "{start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 1500 m}]}"
BEND = (
    "{start: [0 m, 0 m], heading: 0 deg, pieces: "
    "[{line: 300 m}, {arc: {radius: RADIUS m, angle: ANGLE deg}}, {line: 900 m}]}"
)
RING = (
    "{start: [0 m, 0 m], heading: 0 deg, closed: yes, pieces: [{repeat: 3, pieces: ["
    "{line: 300 m, name: lap}, {arc: {radius: 60 m, angle: 180 deg}}, "
    "{line: 300 m}, {arc: {radius: 60 m, angle: 180 deg}}]}]}"
)
# What is drawn, as the format calls it, and its body.
KINDS = {"car": "vehicle", "walker": "pedestrian"}
BODIES = {
    "car": "{length: 4.4 m, width: 1.8 m, front overhang: 3.5 m}",
    "walker": "{length: 0.5 m, width: 0.5 m}",
}


@dataclass(frozen=True)
class Structure:
    """A scenario in parts, so that its twins can be written."""

    kind: str
    seed: int
    paths: dict[str, str]
    movers: dict[str, tuple[str, ...]]
    rest: tuple[str, ...]

    def text(self, *, turned: bool = False) -> str:
        """The file; turned: movers in another order."""
        movers = list(self.movers.items())
        lines = ["choreo: 1", f"title: {self.kind} {self.seed}", "paths:"]
        lines += [f"  {name}: {path}" for name, path in self.paths.items()]
        lines.append("movers:")
        for name, parts in movers[::-1] if turned else movers:
            lines += [f"  {name}:", *(f"    {one}" for one in parts)]
        return "\n".join((*lines, *self.rest)) + "\n"


def structure(seed: int) -> Structure:
    """The structure of a seed."""
    rng = np.random.default_rng([seed, 55_021])
    kinds: tuple[Callable[[Rng, int], Structure], ...] = (
        _chain,
        _two,
        _paused,
        _backs_out,
        _laps,
        _follows,
        _bend,
    )
    return kinds[seed % len(kinds)](rng, seed)


def _mover(
    rng: Rng, what: str, path: str, start: str, phases: list[str], *more: str
) -> tuple[str, ...]:
    jerk = f", jerk: {number(draw(rng, 4, 20))} m/s3" if rng.random() < 0.5 else ""
    return (
        f"kind: {KINDS[what]}",
        f"path: {path}",
        f"body: {BODIES[what]}",
        f"limits: {{speed: 50 m/s, accelerate: 4 m/s2, brake: 7 m/s2{jerk}}}",
        f"start: {start}",
        *more,
        f"programme: [{', '.join(phases)}]",
    )


def _ramp(rng: Rng, to_mps: float, word: str = "accelerate", more: str = "") -> str:
    return (
        f"{{ramp: {{to: {number(to_mps)} m/s, {word}: {number(draw(rng, 1, 3.5, 2))} m/s2}}{more}}}"
    )


def _stop(rng: Rng, more: str = "") -> str:
    return f"{{stop: {{brake: {number(draw(rng, 2, 6, 2))} m/s2}}{more}}}"


def _start(rng: Rng, low: float, high: float) -> str:
    return (
        "{station: free}"
        if rng.random() < 0.5
        else f"{{station: {number(draw(rng, low, high, 1))} m}}"
    )


def _across(x_m: float, from_m: float = -12.0) -> str:
    return f"{{start: [{number(x_m)} m, {number(from_m)} m], heading: 90 deg, pieces: [{{line: 40 m}}]}}"


def _walk(rng: Rng, until: str, trigger: str) -> list[str]:
    wait = [f"{{wait: {{for: {trigger}}}}}"] if trigger else []
    ramp = _ramp(rng, draw(rng, 0.8, 2.5, 2))
    return [*wait, ramp, f"{{hold: {{until: {until}}}, name: walk}}", _stop(rng)]


def _contact(name: str, other: str) -> str:
    return f"  {name}: {{kind: contact, of: subject, with: {other}, offset: 0 m}}"


def _chain(rng: Rng, seed: int) -> Structure:
    """One launches another, who launches a third, who launches the one that is met."""
    v = draw(rng, 6, 20, 2)
    phases = [_ramp(rng, v), "{hold: {settle: 1 s, until: met}, name: steady}", _stop(rng)]
    along = [
        _ramp(rng, 2.0),
        f"{{hold: {{for: {number(draw(rng, 3, 9, 1))} s}}, name: walk}}",
        _stop(rng),
    ]
    fires = (
        ("time to collision", "s", 2.0, 9.0, ", to: met")
        if rng.random() < 0.5
        else ("station", "m", 60.0, 250.0, "")
    )
    setting = number(draw(rng, fires[2], fires[3], 2))
    movers = {"subject": _mover(rng, "car", "lane", _start(rng, 0, 200), phases)}
    paths = {"lane": STRAIGHT, "way": _across(draw(rng, 150, 500, 1))}
    for n in (1, 2):
        paths[f"aside{n}"] = (
            f"{{start: [0 m, {30 + 10 * n} m], heading: 0 deg, pieces: [{{line: 90 m}}]}}"
        )
        movers[f"relay{n}"] = _mover(
            rng, "walker", f"aside{n}", "{station: 0 m}", [f"{{wait: {{for: t{n}}}}}", *along]
        )
    movers["walker"] = _mover(rng, "walker", "way", _start(rng, 0, 8), _walk(rng, "met", "t3"))
    rest = (
        "triggers:",
        f"  t1: {{watch: subject, when: {{{fires[0]}: {setting} {fires[1]}}}{fires[4]}, latency: 50 ms}}",
        f"  t2: {{watch: relay1, when: {{station: {number(draw(rng, 2, 6, 2))} m}}, latency: 50 ms}}",
        f"  t3: {{watch: relay2, when: {{speed: {number(draw(rng, 0.5, 1.9, 2))} m/s}}, latency: 50 ms}}",
        "encounters:",
        _contact("met", "walker"),
    )  # fmt: skip
    return Structure("chain", seed, paths, movers, rest)


def _two(rng: Rng, seed: int) -> Structure:
    """One passes behind a first walker and meets a second."""
    phases = [
        _ramp(rng, draw(rng, 6, 20, 2)),
        "{hold: {settle: 1 s, until: met}, name: steady}",
        _stop(rng),
    ]
    x = draw(rng, 120, 300, 1)
    paths = {"lane": STRAIGHT, "way1": _across(x), "way2": _across(x + draw(rng, 10, 60, 1))}
    first = [_ramp(rng, draw(rng, 0.8, 2.5, 2)), "{hold: {for: 22 m}, name: walk}", _stop(rng)]
    movers = {
        "subject": _mover(rng, "car", "lane", _start(rng, 0, 100), phases),
        "walker1": _mover(rng, "walker", "way1", "{station: 0 m}", first),
        "walker2": _mover(rng, "walker", "way2", _start(rng, 0, 8), _walk(rng, "met", "")),
    }
    gap = number(draw(rng, 0.5, 3, 2))
    rest = (
        "encounters:",
        "  passed: {kind: pass, of: subject, with: walker1, first: walker1, "
        f"time: {gap}..{number(float(gap) + 4)} s}}",
        _contact("met", "walker2"),
    )
    return Structure("two", seed, paths, movers, rest)


def _released(when: str, to: str = "") -> tuple[str, ...]:
    """A walker whom the subject releases, and who is met."""
    return (
        "triggers:",
        f"  t1: {{watch: subject, when: {{{when}}}{to}, latency: 40 ms}}",
        "encounters:",
        _contact("met", "walker"),
    )


def _paused(rng: Rng, seed: int) -> Structure:
    """Waits, stops and goes on twice in one programme, and is met in the last hold."""
    v = draw(rng, 4, 15, 2)
    phases = [
        "{wait: {for: 2 s}}",
        _ramp(rng, v), "{hold: {for: 3 s}, name: one}", _stop(rng, ", name: halt"),
        f"{{wait: {{lasting: {number(draw(rng, 1, 5, 1))} s}}, name: pause}}",
        _ramp(rng, v / 2), "{hold: {for: 10 m}, name: two}", _ramp(rng, v),
        "{hold: {until: met}, name: three}", _stop(rng),
    ]  # fmt: skip
    movers = {
        "subject": _mover(rng, "car", "lane", _start(rng, 0, 100), phases),
        "walker": _mover(rng, "walker", "way", _start(rng, 0, 8), _walk(rng, "met", "t1")),
    }
    paths = {"lane": STRAIGHT, "way": _across(draw(rng, 150, 400, 1))}
    when = f"time: {number(draw(rng, 10, 30, 1))} s"
    if rng.random() < 0.5:
        when = f"station: {number(draw(rng, 120, 250, 1))} m"
    return Structure("paused", seed, paths, movers, _released(when))


def _backs_out(rng: Rng, seed: int) -> Structure:
    """A car backs up until it crosses the way of one who waits for it."""
    phases = [_ramp(rng, draw(rng, 1.5, 5, 2)), "{hold: {until: met}, name: back}", _stop(rng)]
    movers = {
        "subject": _mover(rng, "car", "lane", _start(rng, 0, 30), phases, "drive: backwards"),
        "walker": _mover(rng, "walker", "way", _start(rng, 0, 8), _walk(rng, "met", "t1")),
    }
    paths = {"lane": STRAIGHT, "way": _across(draw(rng, 40, 90, 1))}
    when = f"distance: {number(draw(rng, 3, 30, 2))} m"
    return Structure("backs out", seed, paths, movers, _released(when, ", to: met"))


def _laps(rng: Rng, seed: int) -> Structure:
    """Round a closed path to a named place of a later lap, with a gap to who is ahead there."""
    v = draw(rng, 8, 16, 2)
    lead = [_ramp(rng, v), "{hold: {until: 2nd start of lead.lap}, name: round}", _stop(rng)]
    own = [
        _ramp(rng, v + draw(rng, 0, 4, 2)),
        f"{{hold: {{for: {number(draw(rng, 400, 1500, 0))} m}}, name: round}}",
        _stop(rng),
    ]
    movers = {
        "lead": _mover(rng, "car", "lane", f"{{station: {number(draw(rng, 60, 200, 1))} m}}", lead),
        "subject": _mover(rng, "car", "lane", "{station: 10 m}", own),
    }
    gap = number(draw(rng, 8, 60, 2))
    rest = (
        "encounters:",
        f"  gap: {{kind: gap, of: subject, with: lead, distance: {gap}..{number(float(gap) * 1.3)} m, "
        "at: end of lead.round}",
    )
    return Structure("laps", seed, {"lane": RING}, movers, rest)


def _follows(rng: Rng, seed: int) -> Structure:
    """A third follows a second, which follows the first, from rolling starts at go or from rest."""
    v = draw(rng, 6, 20, 2)
    rolls = rng.random() < 0.4
    start = (
        f"{{station: 400 m, speed: {number(v / 2)} m/s, at: go}}" if rolls else "{station: 400 m}"
    )
    lead = [
        _ramp(rng, v),
        f"{{hold: {{for: {number(draw(rng, 8, 30, 1))} s}}, name: steady}}",
        _stop(rng),
    ]
    movers = {"lead": _mover(rng, "car", "lane", start, lead)}
    for name, ahead in (("second", "lead"), ("subject", "second")):
        gap = f"time gap: {number(draw(rng, 0.8, 2.5, 2))} s"
        phases = [_ramp(rng, v), f"{{follow: {{mover: {ahead}, {gap}}}}}", _stop(rng)]
        movers[name] = _mover(rng, "car", "lane", "{station: free}", phases)
    return Structure("follows", seed, {"lane": STRAIGHT}, movers, ())


def _bend(rng: Rng, seed: int) -> Structure:
    """A gap that holds while the lead goes round a bend, then one as it brakes."""
    v = draw(rng, 6, 14, 2)
    bend = BEND.replace("RADIUS", number(draw(rng, 60, 200, 1))).replace(
        "ANGLE", number(draw(rng, 30, 120, 1))
    )
    lead = [
        _ramp(rng, v),
        f"{{hold: {{for: {number(draw(rng, 10, 30, 1))} s}}, name: steady}}",
        _stop(rng),
    ]
    own = [_ramp(rng, v), "{hold: {}, name: steady}", _stop(rng)]
    movers = {
        "lead": _mover(
            rng, "car", "lane", f"{{station: {number(draw(rng, 100, 250, 1))} m}}", lead
        ),
        "subject": _mover(rng, "car", "lane", _start(rng, 0, 90), own),
    }
    gap = number(draw(rng, 8, 60, 2))
    when = "during: lead.steady" if rng.random() < 0.6 else "at: start of lead.stop"
    rest = (
        "encounters:",
        f"  gap: {{kind: gap, of: subject, with: lead, distance: {gap} m, {when}}}",
    )
    return Structure("bend", seed, {"lane": bend}, movers, rest)


def mirrored(text: str) -> str:
    """The same on the other side of the x axis: what lies left lies right."""
    text = re.sub(
        r"(start: \[[^,]*, )(-?)([\d.]+ m\])", lambda m: m[1] + ("" if m[2] else "-") + m[3], text
    )
    text = re.sub(
        r"(heading: |angle: )(-?)([\d.]+ deg)", lambda m: m[1] + ("" if m[2] else "-") + m[3], text
    )
    return text.replace("-0 m", "0 m").replace("-0 deg", "0 deg")


def fixed(text: str, plan: Plan) -> str:
    """The start marks of a plan in place of those that are free."""
    lines, name = [], ""
    for line in text.split("\n"):
        if re.fullmatch(r"  \w+:", line):
            name = line.strip(" :")
        if "station: free" in line:
            line = line.replace("free", f"{plan.movers[name].start.station_m:.6f} m")
        lines.append(line)
    return "\n".join(lines)


def asked(text: str) -> tuple[str, str, Plan | None]:
    """Verdict, why, and the plan."""
    try:
        plan = answer(case_at(loads(text, FILE, Path()), None)).plan
    except ChoreoError as error:
        return REFUSED, "; ".join(one.text for one in error.findings), None
    except Exception as error:  # any other is a defect, to be told with its seed
        return CRASHED, f"{type(error).__name__}: {error}", None
    why = plan.budgets[0].title if plan.budgets else ""
    return plan.verdict, why, plan


def faults_of(one: Structure) -> Iterator[str]:
    """What is wrong with what is said of a structure and of its twins."""
    text = one.text()
    verdict, why, plan = asked(text)
    if verdict in (UNDECIDED, CRASHED, REFUSED):
        yield f"{verdict}: {why}"
        return
    twins = {"mirrored": mirrored(text), "turned": one.text(turned=True)}
    if plan is not None and verdict == FEASIBLE and "station: free" in text:
        twins["fixed"] = fixed(text, plan)
    for name, twin in twins.items():
        other, because, _ = asked(twin)
        if other != verdict:
            yield f"{verdict}, but {name} {other}: {because}"
