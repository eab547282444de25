"""The options of `choreo stress --record`: how the made-up measuring system is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import click

if TYPE_CHECKING:
    from choreo.recordings.recorder import Recorder
    from choreo.recordings.writing import Kind
    from choreo.words.units import QuantityKind

RECORDED, MOST_RECORDED = 20, 10_000
# What samples may be noisy in.
NOISES = ("length", "speed", "angle")
MOST_HZ, LEAST_HZ = 10_000.0, 1.0

_OPTIONS = (
    click.option(
        "--record",
        "folder",
        type=click.Path(path_type=Path, file_okay=False),
        metavar="DIR",
        help=f"Instead write simulated recordings of the runs ({RECORDED} when --runs is left out) "
        "to DIR, with what was drawn beside them.",
    ),
    click.option(
        "--record-as",
        type=click.Choice(["csv", "mdf4", "parquet", "iso-mme"]),
        help="What kind of files: text, MDF 4, Parquet, folders after ISO/TS 13499.",
    ),
    click.option("--record-rate", metavar='"100 Hz"', help="Samples a second of a recording."),
    click.option(
        "--record-noise",
        multiple=True,
        metavar='"0.02 m"',
        help="Noise of each sample: a length, a speed, an angle; once for each.",
    ),
    click.option(
        "--record-antenna",
        metavar='"1.2 m, 0.1 m"',
        help="Where antennas are, ahead and left of the reference points.",
    ),
    click.option(
        "--record-clock",
        type=click.Choice(["recording", "utc", "gps"]),
        help="What the time column counts from.",
    ),
    click.option("--record-lost", metavar='"1 %"', help="The share of samples without a fix."),
    click.option(
        "--record-places",
        type=click.Choice(["site", "earth"]),
        help="Places in the site frame, or longitude and latitude (WGS 84).",
    ),
)


def recorder_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options of recordings."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


def recorder_of(given: dict[str, Any]) -> Recorder:
    """Make the measuring system that is asked for. given: by option. Raises click.BadParameter."""
    from choreo.recordings.recorder import Recorder

    found = Recorder()
    if given["record_rate"] is not None:
        rate = _quantity(given["record_rate"], "frequency", "--record-rate")
        if not LEAST_HZ <= rate <= MOST_HZ:
            raise click.BadParameter(f"`{given['record_rate']}` is none: write 1 Hz to 10000 Hz.")
        found = replace(found, rate_hz=rate)
    for noise in given["record_noise"]:
        found = _with_noise(found, noise)
    if given["record_antenna"] is not None:
        parts = given["record_antenna"].split(",")
        if len(parts) != 2:
            raise click.BadParameter(
                'Write two lengths, ahead and left, like --record-antenna "1.2 m, 0.1 m".'
            )
        ahead, left = (_quantity(one, "length", "--record-antenna") for one in parts)
        found = replace(found, antenna_m=(ahead, left))
    if given["record_lost"] is not None:
        ratio = _quantity(given["record_lost"], "ratio", "--record-lost")
        if not 0.0 <= ratio < 1.0:
            raise click.BadParameter(f"`{given['record_lost']}` is no share: write 0 % to 99 %.")
        found = replace(found, lost_ratio=ratio)
    return replace(
        found,
        clock=given["record_clock"] or found.clock,
        places=given["record_places"] or found.places,
    )


def kind_of_files(given: dict[str, Any]) -> Kind:
    """Give the kind of files that is asked for. Raises click.BadParameter: it can't hold the clock that is meant."""
    kind = cast("Kind", given["record_as"] or "csv")
    if kind == "iso-mme" and given["record_clock"] in ("utc", "gps"):
        raise click.BadParameter(
            "Folders after ISO/TS 13499 count from a zero of their own: leave --record-clock out."
        )
    return kind


def named(given: dict[str, Any]) -> list[str]:
    """Give the options of recordings that are used, as they are written."""
    return [f"--{name.replace('_', '-')}" for name, value in given.items() if value]


def _with_noise(found: Recorder, text: str) -> Recorder:
    from choreo.words.quantities import QuantityError, kind_of

    try:
        kind = kind_of(text)
    except QuantityError as error:
        raise click.BadParameter(f"{error.wrong}. {error.instead}") from None
    if kind not in NOISES:
        raise click.BadParameter(
            f'`{text}` is no noise: write a length, a speed or an angle, like "0.02 m".'
        )
    size = _quantity(text, kind, "--record-noise")
    if size < 0.0:
        raise click.BadParameter(f"`{text}` is negative: a noise is a standard deviation.")
    match kind:
        case "length":
            return replace(found, noise_m=size)
        case "speed":
            return replace(found, noise_mps=size)
        case _:
            return replace(found, noise_rad=size)


def _quantity(text: str, kind: str, option: str) -> float:
    from choreo.words.quantities import QuantityError, parse

    try:
        return parse(text, cast("QuantityKind", kind))
    except QuantityError as error:
        raise click.BadParameter(f"{option}: {error.wrong}. {error.instead}") from None
