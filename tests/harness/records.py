"""A randomly made scenario as plain numbers in SI, and its text. Nothing here knows choreo."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

INF = math.inf
FREE = (-INF, INF)
Span = tuple[float, float]


@dataclass(frozen=True)
class Phase:
    """A phase of a programme; rate_mps2 makes a ramp use just that rate."""

    kind: str
    trigger: str | None = None
    to_mps: float = 0.0
    rate_mps2: float | None = None
    build_up_s: float | None = None
    within_m: float | None = None
    over_m: float | None = None
    lasting_s: float | None = None
    settle_s: float = 0.0
    settled_by: str | None = None
    until: str | None = None
    for_s: float | None = None
    for_m: float | None = None
    name: str | None = None


@dataclass(frozen=True)
class Path:
    """A line, or with arc_m > 0 a line, an arc of that radius and a line; heading in degrees."""

    x_m: float
    y_m: float
    heading_deg: float
    length_m: float
    before_m: float = 0.0
    radius_m: float = 0.0
    angle_deg: float = 0.0

    @property
    def arc_m(self) -> float:
        return self.radius_m * math.radians(abs(self.angle_deg))

    def point(self, station_m: float, left_m: float) -> tuple[float, float, float]:
        """x, y of a point beside the last line, and the heading there in degrees."""
        heading = math.radians(self.heading_deg)
        x, y, end, way = self.x_m, self.y_m, heading, station_m
        if self.radius_m:
            side = math.copysign(1.0, self.angle_deg)
            end = heading + math.radians(self.angle_deg)
            x += self.before_m * math.cos(heading)
            y += self.before_m * math.sin(heading)
            x += side * self.radius_m * (math.sin(end) - math.sin(heading))
            y -= side * self.radius_m * (math.cos(end) - math.cos(heading))
            way -= self.before_m + self.arc_m
        x += way * math.cos(end) - left_m * math.sin(end)
        y += way * math.sin(end) + left_m * math.cos(end)
        return x, y, math.degrees(end)


@dataclass(frozen=True)
class Mover:
    """A mover; table holds (speed, acceleration) pairs."""

    name: str
    kind: str
    path: Path
    path_name: str
    length_m: float
    width_m: float
    front_m: float
    table: tuple[tuple[float, float], ...]
    brake_mps2: float
    phases: tuple[Phase, ...]
    jerk_mps3: float = INF
    lateral_mps2: float = INF
    stroke_m: float = INF
    start: Span = FREE
    start_mps: float = 0.0

    @property
    def rear_m(self) -> float:
        return self.length_m - self.front_m


@dataclass(frozen=True)
class Trigger:
    """A trigger; condition as in the scenario file."""

    name: str
    watch: str
    condition: str
    setting: Span
    to: str | None
    latency_s: float
    sampling_hz: float


@dataclass(frozen=True)
class Contact:
    """A crossing contact: with_ crosses the last line of of's path at cross_m, at a right angle.

    Its path begins aside_m beside that line, on the left or the right; impact_m is left of the middle.
    """

    name: str
    of: str
    with_: str
    cross_m: float
    aside_m: float
    from_left: bool
    impact_m: float


@dataclass(frozen=True)
class Rear:
    """A contact with the mover ahead on the same straight lane."""

    name: str
    of: str
    with_: str


@dataclass(frozen=True)
class Gap:
    """A bumper gap on the same straight lane, in m or as a time gap in s, when a phase of with_ begins
    or at another encounter."""

    name: str
    of: str
    with_: str
    measure: str
    wanted: float
    at_phase: str | None
    at_encounter: str | None = None


Encounter = Contact | Rear | Gap


@dataclass(frozen=True)
class Case:
    """A scenario; plan_m is nothing but what the generator says of it."""

    family: str
    variant: str
    seed: int
    movers: tuple[Mover, ...]
    triggers: tuple[Trigger, ...]
    encounters: tuple[Encounter, ...]
    instants: dict[str, tuple[str, float]] = field(default_factory=dict)
    prefer: str = "shortest runway"
    note: str = ""

    def mover(self, name: str) -> Mover:
        return next(one for one in self.movers if one.name == name)

    def with_mover(self, name: str, **changes: object) -> Case:
        """The same case with one mover changed."""
        movers = tuple(
            replace(one, **changes) if one.name == name else one  # type: ignore[arg-type]
            for one in self.movers
        )
        return replace(self, movers=movers)

    def with_phase(self, name: str, index: int, **changes: object) -> Case:
        """The same case with one phase changed."""
        phases = list(self.mover(name).phases)
        phases[index] = replace(phases[index], **changes)  # type: ignore[arg-type]
        return self.with_mover(name, phases=tuple(phases))

    def with_trigger(self, index: int, **changes: object) -> Case:
        """The same case with one trigger changed."""
        triggers = list(self.triggers)
        triggers[index] = replace(triggers[index], **changes)  # type: ignore[arg-type]
        return replace(self, triggers=tuple(triggers))


def number(value: float) -> str:
    """A decimal that reads back as the same float."""
    text = repr(float(value))
    return format(float(value), ".17f").rstrip("0") if "e" in text else text


def span_text(span: Span, unit: str) -> str:
    lo, hi = span
    if lo == hi:
        return f"{number(lo)} {unit}"
    if math.isinf(lo) or math.isinf(hi):
        return "free"
    return f"{number(lo)}..{number(hi)} {unit}"


def text_of(case: Case) -> str:
    """The scenario file."""
    lines = ["choreo: 1", f"title: {case.family} {case.variant} {case.seed}"]
    lines += [f"prefer: {case.prefer}", "paths:"]
    paths = {mover.path_name: mover.path for mover in case.movers}
    for name, path in paths.items():
        pieces = f"{{line: {number(path.length_m)} m}}"
        if path.radius_m:
            rest = path.length_m - path.before_m - path.arc_m
            arc = f"radius: {number(path.radius_m)} m, angle: {number(path.angle_deg)} deg"
            pieces = (
                f"{{line: {number(path.before_m)} m}}, {{arc: {{{arc}}}}}, "
                f"{{line: {number(rest)} m}}"
            )
        lines.append(
            f"  {name}: {{start: [{number(path.x_m)} m, {number(path.y_m)} m], "
            f"heading: {number(path.heading_deg)} deg, pieces: [{pieces}]}}"
        )
    lines.append("movers:")
    for mover in case.movers:
        lines += _mover_lines(mover)
    if case.triggers:
        lines.append("triggers:")
    units = {"station": "m", "distance": "m", "time to collision": "s", "time": "s"}
    for one in case.triggers:
        to = f", to: {one.to}" if one.to else ""
        when = f"{one.condition}: {span_text(one.setting, units[one.condition])}"
        if one.condition == "station":  # the judge knows stations in holds only
            to += f", during: {_last_hold(case.mover(one.watch))}"
        lines.append(
            f"  {one.name}: {{watch: {one.watch}, when: {{{when}}}{to}, "
            f"latency: {number(one.latency_s)} s, sampling: {number(one.sampling_hz)} Hz}}"
        )
    lines.append("encounters:")
    lines += [_encounter_line(case, one) for one in case.encounters]
    if case.instants:
        lines.append("instants:")
    for name, (before, by_s) in case.instants.items():
        lines.append(f"  {name}: {{before: {before}, by: {number(by_s)} s}}")
    return "\n".join(lines) + "\n"


def _encounter_line(case: Case, one: Encounter) -> str:
    head = f"  {one.name}: {{kind: {'gap' if isinstance(one, Gap) else 'contact'}, "
    head += f"of: {one.of}, with: {one.with_}, "
    if isinstance(one, Contact):
        return head + f"offset: {number(one.impact_m)} m}}"
    if isinstance(one, Rear):
        return head + "offset: 0 m}"
    unit = "m" if one.measure == "distance" else "s"
    at = one.at_encounter or f"start of {one.with_}.{one.at_phase}"
    return head + f"{one.measure}: {number(one.wanted)} {unit}, at: {at}}}"


def _mover_lines(mover: Mover) -> list[str]:
    table = ", ".join(f"{number(v)} m/s: {number(a)} m/s2" for v, a in mover.table)
    accelerate = f"{number(mover.table[0][1])} m/s2" if len(mover.table) == 1 else f"{{{table}}}"
    limits = f"speed: 60 m/s, accelerate: {accelerate}, brake: {number(mover.brake_mps2)} m/s2"
    for key, value, unit in (
        ("jerk", mover.jerk_mps3, "m/s3"),
        ("lateral", mover.lateral_mps2, "m/s2"),
        ("stroke", mover.stroke_m, "m"),
    ):
        if math.isfinite(value):
            limits += f", {key}: {number(value)} {unit}"
    lines = [
        f"  {mover.name}:",
        f"    kind: {mover.kind}",
        f"    path: {mover.path_name}",
        f"    body: {{length: {number(mover.length_m)} m, width: {number(mover.width_m)} m, "
        f"front overhang: {number(mover.front_m)} m}}",
        f"    limits: {{{limits}}}",
        f"    start: {{station: {span_text(mover.start, 'm')}, speed: {number(mover.start_mps)} m/s}}",
        "    programme:",
    ]
    return lines + [f"      - {_phase_text(phase)}" for phase in mover.phases]


def _last_hold(mover: Mover) -> str:
    """The name of a mover's last hold, its own or its number."""
    holds = [phase for phase in mover.phases if phase.kind == "hold"]
    nameless = sum(1 for phase in holds if not phase.name)
    return holds[-1].name or ("hold" if nameless == 1 else f"hold {nameless}")


def _phase_text(phase: Phase) -> str:
    parts = []
    if phase.kind == "wait":
        parts.append(f"for: {phase.trigger}")
    if phase.kind == "ramp":
        parts.append(f"to: {number(phase.to_mps)} m/s")
    down = phase.kind == "stop" or phase.to_mps == 0
    for key, value, unit in (
        ("brake" if down else "accelerate", phase.rate_mps2, "m/s2"),
        ("build up", phase.build_up_s, "s"),
        ("within", phase.within_m, "m"),
        ("over", phase.over_m, "m"),
        ("lasting", phase.lasting_s, "s"),
        ("settle", phase.settle_s or None, "s"),
        ("for", phase.for_s, "s"),
        ("for", phase.for_m, "m"),
    ):
        if value is not None:
            parts.append(f"{key}: {number(value)} {unit}")
    if phase.settled_by:
        parts.append(f"settled by: {phase.settled_by}")
    if phase.until:
        parts.append(f"until: {phase.until}")
    name = f", name: {phase.name}" if phase.name else ""
    return f"{{{phase.kind}: {{{', '.join(parts)}}}{name}}}"
