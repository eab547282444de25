"""choreo sweep: every variant of a campaign, or of a scenario that varies something."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

import click


@click.command("sweep", short_help="Plan and verify every variant of a test matrix.")
@click.argument("file", metavar="CAMPAIGN", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The run store: keeps every row and plan as it is found. A sweep that was broken off goes on from there; what "
    "hasn't changed is not solved again.",
)
@click.option(
    "--jobs",
    type=click.IntRange(1, 512),
    help="Processes to use (default: one a core).",
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Let the workers of a dask.distributed scheduler solve it; needs choreo[cluster] here and there.",
)
@click.option(
    "--room", is_flag=True, help="Also survey the room that each run takes, and its checks."
)
@click.option(
    "--repairs",
    is_flag=True,
    help="Of what isn't feasible also tell the best change that makes it so.",
)
@click.option(
    "--map",
    "mapped",
    is_flag=False,
    flag_value="verdict",
    metavar="[FIGURE]",
    help="Draw a map over the last two varied names: of verdicts, or of `runway`, `duration`, `MOVER start`, ...",
)
@click.option("--csv", "as_csv", is_flag=True, help="Print a line of CSV for each variant instead.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead.")
@click.option("--all", "full", is_flag=True, help="Tell every variant, however many there are.")
@click.option("--yes", is_flag=True, help="Mean it, though the matrix has over 100,000 variants.")
@click.option("--width", type=click.IntRange(40, 400), help="Columns to use.")
def command(
    file: Path,
    output: Path | None,
    jobs: int | None,
    cluster: str | None,
    room: bool,
    repairs: bool,
    mapped: str | None,
    as_csv: bool,
    as_json: bool,
    full: bool,
    yes: bool,
    width: int | None,
) -> None:
    """Plan and verify every variant of CAMPAIGN: a campaign file, or a scenario with `vary:`.

    \b
    Examples:
      choreo sweep scenarios/stationary-target.yaml
      choreo sweep scenarios/campaigns/crossing-walkers.yaml --map -o week.sqlite
      choreo sweep scenarios/campaigns/fmvss-127-lattice.yaml --csv > week.csv
    """
    from choreo.commands.faults import faults_reported
    from choreo.commands.sweeps import Wanted, code_of, print_swept, read, swept

    if as_csv and as_json:
        raise click.UsageError("--csv or --json, not both.")
    if jobs is not None and cluster is not None:
        raise click.UsageError("--jobs or --cluster, not both.")
    how: Literal["table", "csv", "json"] = "csv" if as_csv else "json" if as_json else "table"
    wanted = Wanted(jobs, cluster, room, repairs, mapped, yes, how)
    with faults_reported(as_json=as_json):
        found = swept(read(file, output, wanted), output, wanted)
    with faults_reported(
        as_json=as_json, otherwise="what was solved is in the store" if output else ""
    ):
        print_swept(found, wanted, width, full=full)
    sys.exit(code_of(found))
