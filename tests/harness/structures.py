"""Structures that no other family has, every rate, speed and setting given: each must be decided, and its twins alike.

Drawn are chains of triggers, two encounters of one mover, pauses, somebody who backs out, laps, followers, gaps that
hold round a bend, rolling starts, doors, tables of acceleration over speed, courses, movers that go back. Nobody knows
the verdict; but a twin that is mirrored, or whose movers stand in another order, has the same one, and one whose marks
are those of a plan has a plan.
"""

from __future__ import annotations

import math
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
KINDS = {"car": "vehicle", "walker": "pedestrian", "cyclist": "bicycle"}
BODIES = {
    "car": "{length: 4.4 m, width: 1.8 m, front overhang: 3.5 m}",
    "walker": "{length: 0.5 m, width: 0.5 m}",
    "cyclist": "{length: 1.8 m, width: 0.6 m, front overhang: 0.9 m}",
}
# Seeds from here on draw all kinds; those before are what they were before the last four were added.
ALL_KINDS = 1000


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
    if seed >= ALL_KINDS:
        kinds += (_door, _table, _course, _goes_back)
    return kinds[seed % len(kinds)](rng, seed)


def _mover(
    rng: Rng,
    what: str,
    path: str,
    start: str,
    phases: list[str],
    *more: str,
    accelerate: str = "4 m/s2",
) -> tuple[str, ...]:
    jerk = f", jerk: {number(draw(rng, 4, 20))} m/s3" if rng.random() < 0.5 else ""
    return (
        f"kind: {KINDS[what]}",
        f"path: {path}",
        f"body: {BODIES[what]}",
        f"limits: {{speed: 50 m/s, accelerate: {accelerate}, brake: 7 m/s2{jerk}}}",
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
    movers = {"subject": _mover(rng, "car", "lane", _start(rng, 0, 140), phases)}
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


def _door(rng: Rng, seed: int) -> Structure:
    """A door opens beside a cyclist, by the clock or when the cyclist is near, and is ridden into."""
    y = draw(rng, 1.2, 1.8, 2)
    ride = [
        _ramp(rng, draw(rng, 3, 7, 2)),
        "{hold: {settle: 1 s, until: met}, name: ride}",
        _stop(rng),
    ]
    by_clock = rng.random() < 0.6
    wait = f"lasting: {number(draw(rng, 6, 15, 1))} s" if by_clock else "for: t1"
    # How far it is open as its middle is where it is wanted before the cyclist.
    angle, length = draw(rng, 40, 68, 0), draw(rng, 0.9, 1.2, 2)
    overlap = 50.0 + (length / 2.0 * math.sin(math.radians(angle)) - 0.7) / 0.6 * 100.0
    phases = [
        f"{{wait: {{{wait}}}}}",
        f"{{ramp: {{to: {number(draw(rng, 30, 110, 0))} deg/s, accelerate: 300 deg/s2}}}}",
        "{hold: {}, name: swing}",
        f"{{stop: {{brake: 300 deg/s2, at: {number(angle)} deg}}}}",
    ]
    door = (
        "kind: obstacle",
        f"turns: {{about: [60 m, {number(y - 0.7)} m], by: -70 deg, from: 180 deg}}",
        f"body: {{length: {number(length)} m, width: 0.08 m}}",
        "limits: {speed: 120 deg/s, accelerate: 400 deg/s2, brake: 400 deg/s2}",
        f"programme: [{', '.join(phases)}]",
    )
    path = f"{{start: [0 m, {number(y)} m], heading: 0 deg, pieces: [{{line: 90 m}}]}}"
    movers = {"subject": _mover(rng, "cyclist", "ride", _start(rng, 0, 10), ride), "door": door}
    met = f"  met: {{kind: contact, of: subject, with: door, overlap: {number(overlap)} %}}"
    when = f"time to collision: {number(draw(rng, 0.5, 2.5, 2))} s"
    if rng.random() < 0.5:
        when = f"distance: {number(draw(rng, 2, 12, 2))} m"
    trigger = f"  t1: {{watch: subject, when: {{{when}}}, to: met, latency: 40 ms}}"
    rest = () if by_clock else ("triggers:", trigger)
    return Structure("door", seed, {"ride": path}, movers, (*rest, "encounters:", met))


def _table(rng: Rng, seed: int) -> Structure:
    """Two cars that accelerate less the faster they are; a gap as the lead begins to brake, and perhaps the contact."""
    v, rated = draw(rng, 8, 24, 2), rng.random() < 0.5
    contact = rng.random() < 0.5
    hold = "{hold: {settle: 1 s, until: met}}" if contact else "{hold: {}}"
    movers = {}
    for name, start in (
        ("lead", f"{{station: {number(draw(rng, 60, 250, 1))} m}}"),
        ("subject", ""),
    ):
        rates = (draw(rng, 3.5, 4.5, 2), draw(rng, 1.5, 3, 2), draw(rng, 0.6, 1.4, 2))
        at = (0, draw(rng, 4, 10, 1), draw(rng, 12, 25, 1))
        rows = (
            f"{number(v_mps)} m/s: {number(a)} m/s2" for v_mps, a in zip(at, rates, strict=True)
        )
        ramp = _ramp(rng, v) if rated else f"{{ramp: {{to: {number(v)} m/s}}}}"
        steady = f"{{hold: {{for: {number(draw(rng, 3, 12, 1))} s}}, name: steady}}"
        phases = [ramp, steady, _stop(rng)] if name == "lead" else [ramp, hold, _stop(rng)]
        start = start or _start(rng, 0, 40)
        table = "{" + ", ".join(rows) + "}"
        movers[name] = _mover(rng, "car", "lane", start, phases, accelerate=table)
    gap = number(draw(rng, 6, 50, 2))
    rest = (
        "encounters:",
        f"  gap: {{kind: gap, of: subject, with: lead, distance: {gap} m, at: start of lead.stop}}",
        *([_contact("met", "lead")] if contact else []),
    )
    return Structure("table", seed, {"lane": STRAIGHT}, movers, rest)


def _course(rng: Rng, seed: int) -> Structure:
    """Through a course of a standard or a form, with somebody ahead there or somebody crossing behind it."""
    courses = (
        ("lane change, aside: 3.5 m, length: 45 m", "change"),
        ("ISO 3888-1, vehicle width: 1.8 m, offset read as: centre to centre", "section5"),
        ("slalom, spacing: 30 m, count: 5, aside: 1 m", "gate3"),
        ("U-turn, radius: 25 m", "turn"),
        ("S-bend", "turn1"),
    )
    course, piece = courses[int(rng.integers(len(courses)))]
    path = (
        f"{{course: {course}, turn: left, start: [0 m, 0 m], heading: 0 deg, run-up: 200 m, "
        "run-out: 400 m}"
    )
    v = draw(rng, 5, 12, 2)
    lead = [
        _ramp(rng, v),
        f"{{hold: {{until: end of lead.{piece}}}, name: steady}}",
        _stop(rng),
    ]
    own = [_ramp(rng, v + draw(rng, -1, 2, 2)), "{hold: {}}", _stop(rng)]
    movers = {
        "lead": _mover(rng, "car", "lane", f"{{station: {number(draw(rng, 50, 90, 1))} m}}", lead),
        "subject": _mover(rng, "car", "lane", _start(rng, 0, 40), own),
    }
    gap = number(draw(rng, 6, 60, 2))
    rest = (
        "encounters:",
        f"  gap: {{kind: gap, of: subject, with: lead, distance: {gap}..{number(float(gap) + 3)} m, "
        f"at: start of lead.{piece}}}",
    )
    return Structure("course", seed, {"lane": path}, movers, rest)


def _goes_back(rng: Rng, seed: int) -> Structure:
    """A car drives past, turns back and is met by a walker behind it; or it is met ahead and drives home afterwards."""
    v, x = draw(rng, 3, 8, 2), draw(rng, 60, 110, 1)
    back_m = draw(rng, 30, 50, 1)
    turns = rng.random() < 0.6
    bend = draw(rng, 10, 60, 0)
    phases = [
        _ramp(rng, v), "{hold: {}}", "{stop: {at: end of subject.past}}",
        f"{{wait: {{lasting: {number(draw(rng, 1, 4, 1))} s}}}}",
        _ramp(rng, v / 2), "{hold: {settle: 0.5 s, until: met}, name: back}", _stop(rng),
    ]  # fmt: skip
    path = (
        f"{{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: {number(x)} m, name: past}}, "
        f"{{line: {number(back_m)} m, drive: backwards}}, "
        f"{{arc: {{radius: 60 m, angle: {number(bend)} deg}}, drive: backwards}}]}}"
    )
    met_x = x - back_m / 2
    if not turns:
        phases = [
            _ramp(rng, v), "{hold: {settle: 0.5 s, until: met}, name: on}", _stop(rng),
            f"{{return: {{to: start, at: {number(draw(rng, 2, 6, 1))} m/s, distance: 300 m}}}}",
        ]  # fmt: skip
        path, met_x = STRAIGHT, x + 40
    movers = {
        "subject": _mover(
            rng, "car", "lane", f"{{station: {number(draw(rng, 0, 10, 1))} m}}", phases
        ),
        "walker": _mover(rng, "walker", "way", _start(rng, 0, 8), _walk(rng, "met", "t1")),
    }
    when = f"time to collision: {number(draw(rng, 2, 4.5, 2))} s"
    if rng.random() < 0.5:
        when = f"distance: {number(draw(rng, 5, 12, 2))} m"
    paths = {"lane": path, "way": _across(met_x)}
    return Structure("goes back", seed, paths, movers, _released(when, ", to: met"))


def mirrored(text: str) -> str:
    """The same on the other side of the x axis: what lies left lies right."""

    def opposite(found: re.Match[str]) -> str:
        return found[1] + ("" if found[2] else "-") + found[3]

    text = re.sub(r"((?:start|about): \[[^,]*, )(-?)([\d.]+ m\])", opposite, text)
    text = re.sub(r"((?:heading|angle|by|from): )(-?)([\d.]+ deg)", opposite, text)
    text = re.sub(r"(?<=overlap: )-?[\d.]+", lambda found: number(100 - float(found[0])), text)
    text = text.replace("turn: left", "turn: right")
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
