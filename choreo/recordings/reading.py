"""The files of one run, by their description -> one Recording on one clock, with all that was inferred or is odd."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field, replace
from pathlib import Path

import numpy as np

from choreo.recordings.channels import Channels, unknown_channel, unreadable
from choreo.recordings.clock import WEEK_S, seconds_of
from choreo.recordings.description import Description
from choreo.recordings.doubts import (
    BRIDGED_S,
    bridged,
    contradictions,
    frozen_of,
    jumps_of,
    lost_of,
    off_and_back,
    time_gaps,
)
from choreo.recordings.formats import Wanted, read_channels
from choreo.recordings.others import signals_in_si
from choreo.recordings.places import (
    courses_of,
    headings_of,
    in_si,
    positions_of,
    without_antenna,
)
from choreo.recordings.record import Floats, Recording, Remark, Track
from choreo.recordings.remarks import grouped, told_of
from choreo.recordings.spikes import OFF_M, OFF_MPS, OFF_RAD, without_spikes
from choreo.recordings.written import RecordedMoverWritten, TimeWritten
from choreo.scenario import AnchorSpec
from choreo.scenario.text.document import Keys
from choreo.words import ChoreoError, Finding
from choreo.words.records import dataclass

# A run has at least so many samples a second, else nothing of it can be judged.
LEAST_HZ = 5.0
Asked = list[tuple[str, Keys]]


@dataclass(eq=False)
class _Part:
    """What one file of a run gave: its clock, shape (n,), and the movers that it has."""

    path: Path
    clock: TimeWritten
    time_s: Floats
    channels: Channels
    rows: np.ndarray
    tracks: dict[str, Track] = field(default_factory=dict)


def read_run(
    description: Description, files: Mapping[str | None, Path], anchor: AnchorSpec | None
) -> Recording:
    """Read one run. files: of each mover by its name, the common one under None.

    Raises ChoreoError: a file that can't be read, a channel or a unit that is missing, clocks that don't agree, time
    that runs back, channels that contradict each other.
    """
    remarks: list[Remark] = []
    parts: dict[str | None, _Part] = {}
    for key, path in files.items():
        of_file: list[Remark] = []
        parts[key] = _part(description, key, path, of_file)
        remarks += told_of(of_file, path, files)
    for name, mover in description.written.movers.items():
        part = parts[name if mover.files is not None else None]
        of_file = []
        part.tracks[name] = _track(description, name, mover, part, anchor, of_file)
        remarks += told_of(of_file, part.path, files)
    events = _events(description, parts, remarks)
    time_s, tracks, begins = _together(description, parts, remarks)
    gaps, told = time_gaps(time_s)
    remarks += told
    whole: dict[str, Track] = {}
    jumps: dict[str, tuple[float, ...]] = {}
    unknown: dict[str, tuple[tuple[float, float], ...]] = {}
    for name, track in tracks.items():
        jumps[name], told = jumps_of(name, time_s, track)
        remarks += told
        _refuse_contradictions(description, name, time_s, track)
        lost = lost_of(track)
        if lost.all():
            raise _nothing_of(description, name, track)
        whole[name], missing, told = bridged(name, time_s, track, lost)
        remarks += told
        unknown[name] = tuple(sorted((*missing, *gaps)))
    first = next(iter(files.values()))
    return Recording(
        first.name,
        time_s,
        whole,
        {name: at - begins for name, at in events.items()},
        grouped(remarks),
        unknown,
        description.uncertainty,
        any(part.channels.simulated for part in parts.values()),
        {name: times for name, times in jumps.items() if times},
    )


def _part(description: Description, key: str | None, path: Path, remarks: list[Remark]) -> _Part:
    clock, clock_keys = description.time_of(key)
    if clock is None:
        raise AssertionError("a description without a clock was read")
    wanted = [(clock.channel, (*clock_keys, "channel")), *_wanted(description, key)]
    written = description.written
    channels = read_channels(
        path,
        Wanted(
            [name for name, _ in wanted],
            clock.channel,
            clock.of,
            description.delimiter,
            written.decimal,
        ),
    )
    have = channels.numbers.keys() | channels.texts.keys()
    faults = [
        unknown_channel(name, list(channels.known), description.document.origin(keys), path.name)
        for name, keys in dict(wanted).items()
        if name not in have
    ]
    if faults:
        raise ChoreoError(faults)
    remarks += channels.remarks
    time_s, told = seconds_of(channels, clock.channel, clock.unit, clock.of)
    remarks += told
    rows = _rows(channels, time_s, remarks)
    time_s = time_s[rows]
    rate = 1.0 / float(np.median(np.diff(time_s)))
    remarks.append(Remark(f"{rate:.4g} samples a second, {time_s[-1] - time_s[0]:.2f} s"))
    if rate < LEAST_HZ:
        raise unreadable(
            channels.file,
            f"it has {rate:.3g} samples a second; a run can't be judged by less than {LEAST_HZ:g}",
            "Look at the unit of the time column.",
            channels.line(0),
        )
    return _Part(path, clock, time_s, channels, rows)


def _wanted(description: Description, key: str | None) -> Asked:
    """The channels that are asked of one file, each with the place where."""
    found: Asked = []
    for name, mover in description.written.movers.items():
        if (name if mover.files is not None else None) != key:
            continue
        keys: Keys = ("movers", name)
        for what in ("x", "y", "easting", "northing", "longitude", "latitude"):
            channel = getattr(mover.position, what)
            if channel is not None:
                found.append((channel, (*keys, "position", what)))
        for what in ("speed", "heading", "acceleration"):
            one = getattr(mover, what)
            if one is not None:
                found.append((one.channel, (*keys, what, "channel")))
        found += [
            (one.channel, (*keys, "signals", signal, "channel"))
            for signal, one in mover.signals.items()
        ]
    if key is None:
        events = description.written.events.items()
        found += [(one.channel, ("events", name, "channel")) for name, one in events]
    return found


def _rows(channels: Channels, time_s: Floats, remarks: list[Remark]) -> np.ndarray:
    """The rows that are kept: of a time that is repeated the first."""
    steps = np.diff(time_s)
    back = np.flatnonzero(steps < 0.0)
    if len(back):
        row = int(back[0]) + 1
        raise unreadable(
            channels.file,
            f"time runs back, from {time_s[row - 1] - time_s[0]:.3f} s after its beginning to "
            f"{time_s[row] - time_s[0]:.3f} s",
            "Two runs in one file? Keep one; a clock that was set meanwhile can't be put right.",
            channels.line(row),
        )
    repeated = np.flatnonzero(steps == 0.0) + 1
    if len(repeated):
        first = channels.line(int(repeated[0]))
        times = "time" if len(repeated) == 1 else "times"
        remarks.append(
            Remark(
                f"{len(repeated)} repeated {times}, the first in line {first}: the first row of each is kept",
                odd=True,
            )
        )
    kept = np.ones(len(time_s), dtype=bool)
    kept[repeated] = False
    if kept.sum() < 2:
        raise unreadable(
            channels.file, "all rows have one time", "Look at the time channel.", channels.line(0)
        )
    return np.flatnonzero(kept)


def _track(
    description: Description,
    name: str,
    mover: RecordedMoverWritten,
    part: _Part,
    anchor: AnchorSpec | None,
    remarks: list[Remark],
) -> Track:
    """One mover on its file's clock, its antenna taken off."""
    channels, rows = part.channels, part.rows
    place = description.origin("movers", name, "position")
    x, y = (one[rows] for one in positions_of(channels, mover.position, anchor, place, remarks))
    since_s = part.time_s - part.time_s[0]
    raw = speed = None
    if mover.speed is not None:
        raw = np.abs(in_si(channels, mover.speed, "speed", remarks)[rows])
    away, told = off_and_back(name, since_s, x, y, raw)
    x, y = np.where(away, math.nan, x), np.where(away, math.nan, y)
    (x, y), more = without_spikes(name, "place", since_s, (x, y), OFF_M)
    remarks += [*told, *more]
    if raw is not None:
        ((speed,), told) = without_spikes(name, "speed", since_s, (raw,), OFF_MPS)
        frozen, more = frozen_of(name, since_s, x, y, raw)
        x, y = np.where(frozen, math.nan, x), np.where(frozen, math.nan, y)
        remarks += [*told, *more]
    if mover.heading is not None:
        heading = headings_of(channels, mover.heading, anchor, remarks)[rows]
        (heading,), told = without_spikes(name, "heading", since_s, (heading,), OFF_RAD)
        remarks += told
    else:
        heading = courses_of(part.time_s, x, y)
        remarks.append(Remark(f"{name}: its heading is the course of its places"))
    if speed is None:
        speed = np.hypot(np.gradient(x, part.time_s), np.gradient(y, part.time_s))
        remarks.append(Remark(f"{name}: its speed is the change of its places"))
    accel = None
    if mover.acceleration is not None:
        accel = in_si(channels, mover.acceleration, "acceleration", remarks)[rows]
    if mover.antenna is not None:
        x, y = without_antenna(x, y, heading, mover.antenna.ahead, mover.antenna.left)
    return Track(x, y, heading, speed, accel, signals_in_si(channels, mover, rows, remarks))


def _events(
    description: Description, parts: Mapping[str | None, _Part], remarks: list[Remark]
) -> dict[str, float]:
    """When each named signal first passes its level, on the common file's clock; what never does is told."""
    found: dict[str, float] = {}
    for name, event in description.written.events.items():
        part = parts.get(None)
        if part is None:
            continue
        values = part.channels.numbers[event.channel][part.rows]
        level = event.rises if event.rises is not None else event.falls
        up = values >= level if event.rises is not None else values <= level
        passes = np.flatnonzero(up[1:] & ~up[:-1]) + 1
        if len(passes):
            # It rose somewhere between two samples.
            found[name] = float(part.time_s[passes[0] - 1 : passes[0] + 1].mean())
        else:
            remarks.append(Remark(f"event {name}: its channel never passes {level:g}"))
        if len(passes) > 1:
            remarks.append(Remark(f"event {name}: {len(passes)} times; the first counts", odd=True))
    return found


def _together(
    description: Description, parts: Mapping[str | None, _Part], remarks: list[Remark]
) -> tuple[Floats, dict[str, Track], float]:
    """All movers on one clock that begins at 0, that of the file with the most samples; and when it began.

    What lies between two samples of another file is a straight line.
    """
    if len(parts) > 1:
        _agree(description, parts, remarks)
    leading = max(parts.values(), key=lambda one: len(one.time_s))
    begins = max(float(one.time_s[0]) for one in parts.values())
    ends = min(float(one.time_s[-1]) for one in parts.values())
    if ends <= begins:
        raise unreadable(
            str(leading.path),
            "the files of this run have no time in common",
            "Look at `of` of each clock: UTC and GPS time are 18 s apart, or the files are of two runs.",
        )
    inside = (leading.time_s >= begins) & (leading.time_s <= ends)
    time_s = leading.time_s[inside]
    tracks: dict[str, Track] = {}
    for part in parts.values():
        for name, track in part.tracks.items():
            tracks[name] = (
                _cut(track, inside) if part is leading else _on(track, part.time_s, time_s)
            )
    ordered = {name: tracks[name] for name in description.written.movers}
    return time_s - begins, ordered, begins


def _agree(
    description: Description, parts: Mapping[str | None, _Part], remarks: list[Remark]
) -> None:
    """Bring the clocks of several files together."""
    for key, part in parts.items():
        if part.clock.of == "recording":
            keys: Keys = description.time_of(key)[1]
            values = {
                "why": f"{part.path.name} counts from its own beginning, and another file has the other movers",
                "instead": "Record both on UTC or GPS time and write `of: utc` or `of: gps`, or put them in one file.",
            }
            raise ChoreoError(
                [Finding("recording.unfit", "error", description.document.origin(keys), values)]
            )
    clocks = {part.clock.of for part in parts.values()}
    if len(clocks) > 1:
        remarks.append(Remark("UTC and GPS time are put on one clock"))
    leading = next(iter(parts.values()))
    for part in parts.values():
        weeks = round((part.time_s[0] - leading.time_s[0]) / WEEK_S)
        if weeks:
            part.time_s = part.time_s - weeks * WEEK_S
            remarks.append(
                Remark(
                    f"{part.path.name}: {abs(weeks)} weeks are taken off or added: its clock counts within the week"
                )
            )


def _cut(track: Track, inside: np.ndarray) -> Track:
    accel = None if track.accel_mps2 is None else track.accel_mps2[inside]
    return Track(
        track.x_m[inside],
        track.y_m[inside],
        track.heading_rad[inside],
        track.speed_mps[inside],
        accel,
        {name: values[inside] for name, values in track.signals.items()},
    )


def _on(track: Track, own_s: Floats, time_s: Floats) -> Track:
    """A track on another clock; nan where its own samples are too far apart."""
    after = np.clip(np.searchsorted(own_s, time_s), 1, len(own_s) - 1)
    wide = own_s[after] - own_s[after - 1] > max(BRIDGED_S, 2.0 * float(np.median(np.diff(own_s))))

    def put(values: Floats) -> Floats:
        share = (time_s - own_s[after - 1]) / (own_s[after] - own_s[after - 1])
        found = values[after - 1] + share * (values[after] - values[after - 1])
        return np.where(wide, math.nan, found)

    moved = replace(
        track,
        x_m=put(track.x_m),
        y_m=put(track.y_m),
        heading_rad=put(track.heading_rad),
        speed_mps=put(track.speed_mps),
        signals={name: put(values) for name, values in track.signals.items()},
    )
    return moved if track.accel_mps2 is None else replace(moved, accel_mps2=put(track.accel_mps2))


def _nothing_of(description: Description, name: str, track: Track) -> ChoreoError:
    """The fault of a mover of whom no row holds place, speed and heading together."""
    columns = {
        "position": track.x_m + track.y_m,
        "speed": track.speed_mps,
        "heading": track.heading_rad,
    }
    empty = [what for what, one in columns.items() if not np.isfinite(one).any()]
    listed = " and ".join(f"`{one}`" for one in empty)
    why = (
        f"nothing is recorded of {name}: no row has a value of its {listed}"
        if empty
        else f"nothing is recorded of {name}: no row has all of its values"
    )
    instead = "Name the channels that hold it, or leave out what wasn't recorded: its places tell speed and course."
    return ChoreoError(
        [
            Finding(
                "recording.unfit",
                "error",
                description.origin("movers", name),
                {"why": why, "instead": instead},
            )
        ]
    )


def _refuse_contradictions(
    description: Description, name: str, time_s: Floats, track: Track
) -> None:
    faults = [
        Finding(
            "recording.unfit",
            "error",
            description.origin("movers", name),
            {"why": why, "instead": instead},
        )
        for why, instead in contradictions(name, time_s, track)
    ]
    if faults:
        raise ChoreoError(faults)
