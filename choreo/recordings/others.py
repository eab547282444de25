"""Channels of a mover besides its motion, by the names that rule sets have for signals: steering, yaw rate, pedals."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from choreo.recordings.channels import Channels, unreadable
from choreo.recordings.record import Floats, Remark
from choreo.recordings.written import ChannelWritten, RecordedMoverWritten
from choreo.rules.numbers import UNITS
from choreo.rules.records import SIGNALS, Signal
from choreo.words.nearest import nearest_word
from choreo.words.quantities import quoted

# What a channel of one mover can hold; the others are of two, of once a run, or have a key of their own.
RECORDED: tuple[Signal, ...] = (
    "yaw rate",
    "steering wheel speed",
    "lateral velocity",
    "pedal force",
)


def signal_of(name: str) -> Signal | None:
    """Give the signal of a name; None: no channel of one mover has that."""
    return next((one for one in RECORDED if one == name), None)


def faults_of_signals(mover: RecordedMoverWritten) -> Iterator[tuple[str, str, str]]:
    """Give the name of each signal that there isn't, why, and what to write instead."""
    for name in mover.signals:
        if signal_of(name) is None:
            nearest = nearest_word(name, RECORDED)
            known = ", ".join(f"`{one}`" for one in RECORDED)
            instead = f"Did you mean `{nearest}`?" if nearest else f"There are {known}."
            yield name, f"`{quoted(name)}` is no signal of a mover", instead


def signals_in_si(
    channels: Channels, mover: RecordedMoverWritten, rows: np.ndarray, remarks: list[Remark]
) -> dict[Signal, Floats]:
    """Give a mover's other channels in SI, each of shape (n,). Raises ChoreoError: no unit."""
    found: dict[Signal, Floats] = {}
    for name, one in mover.signals.items():
        signal = signal_of(name)
        if signal is not None:
            found[signal] = channels.numbers[one.channel][rows] * _factor(channels, one, signal)
            if one.unit is None:
                remarks.append(Remark(one.channel, unit=channels.units.get(one.channel)))
    return found


def _factor(channels: Channels, one: ChannelWritten, signal: Signal) -> float:
    known = UNITS[SIGNALS[signal].unit]
    said = one.unit or channels.units.get(one.channel)
    if said is not None and said in known:
        return known[said]
    why = (
        f"`{quoted(one.channel)}` has no unit, here or in the description"
        if said is None
        else f"`{quoted(said)}` of `{quoted(one.channel)}` is no unit of a {signal}"
    )
    instead = f"Write `{{channel: {one.channel}, unit: {next(iter(known))}}}`."
    raise unreadable(channels.file, why, instead, max(channels.line(0) - 1, 1))
