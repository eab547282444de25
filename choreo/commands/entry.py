"""The `choreo` command: its group, its exit codes, and the last resort for our own faults."""

from __future__ import annotations

import errno
import gc
import io
import os
import signal
import sys
from contextlib import suppress
from importlib import import_module
from types import FrameType
from typing import Any, NoReturn

import click

from choreo.commands.exits import BAD_INPUT, BUG, INTERRUPTED, NO, NOT_WRITTEN

# Looking through every package installed for plugins that nobody has costs as much as loading shapely.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

STANDARD_ERROR = 2
# Nearly all that is loaded and made lives until the end: looking for garbage every 700 objects costs a tenth.
OBJECTS_BETWEEN_LOOKS = 50_000
# Disk full, quota, device, closed or never opened, file size limit, would block.
WRITE_FAILURES = {
    errno.EPIPE,
    errno.ENOSPC,
    errno.EDQUOT,
    errno.EIO,
    errno.EBADF,
    errno.EFBIG,
    errno.EAGAIN,
}

COMMANDS = {
    "new": "List ready scenarios, or copy one to begin with.",
    "plan": "Solve a scenario, verify the plan and print it.",
    "sweep": "Plan and verify every variant of a test matrix.",
    "why": "Tell what doesn't fit and the least change that helps, or the room left.",
    "check": "Look a scenario, a plan or the staged marks over before a run.",
    "stress": "Run a plan with errors: how often is it valid, and why not.",
    "score": "Judge recorded runs: valid or not, what happened, what was off.",
    "learn": "Learn errors and latencies from recorded runs, into a copy of the fleet file.",
    "diff": "Say what differs between two plans or scenarios, for a crew.",
    "show": "Write a page that plays the plan, or a run sheet to print.",
    "export": "Give the places to stake out, and the keep-out area for a map.",
    "day": "Plan a campaign's day: stagings, order, timetable.",
    "share": "Plan when vehicles start that share one circuit.",
    "laps": "Plan laps of a circuit with excursions: sequence, surfaces, exposure.",
    "rules": "List rule sets, print a family's rules, write its matrix.",
    "place": "Find where a scenario fits on a site, or how small a rectangle would do.",
    "schema": "Print the JSON Schema of scenario files, for editors.",
    "guide": "Show the guide: a tour, the file format, recorded runs, guarantees, speed.",
}


class _CtrlC:
    """What Ctrl-C does: it interrupts, and is remembered where something on the way turns that into another error."""

    pressed = False

    def __call__(self, _number: int, _frame: FrameType | None) -> NoReturn:
        self.pressed = True
        raise KeyboardInterrupt


CTRL_C = _CtrlC()


class Commands(click.Group):
    """Imports a command's module only when it is called: `--help` stays quick."""

    def invoke(self, context: click.Context) -> Any:
        """Run the command; Ctrl-C ends it in one line."""
        try:
            return super().invoke(context)
        except KeyboardInterrupt:
            pass
        except Exception:
            if not CTRL_C.pressed:
                raise
        _tell("choreo: interrupted.")
        sys.exit(INTERRUPTED)

    def list_commands(self, _context: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, _context: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        command = import_module(f"choreo.commands.{name}").command
        return command if isinstance(command, click.Command) else None

    def format_commands(self, _context: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, context: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(context, args)
        except click.UsageError:
            if args[0].startswith("-"):
                raise
            from choreo.words.nearest import suggestion
            from choreo.words.quantities import quoted

            advice = suggestion(args[0], COMMANDS)
            raise click.UsageError(
                f"There is no command `{quoted(args[0])}`. {advice}", context
            ) from None


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name="choreo", message="choreo %(version)s")
def group() -> None:
    """Plan multi-vehicle proving-ground tests: start marks, launches, triggers, runway, proof.

    \b
    To begin with:
      choreo new walker-nearside
      choreo plan walker-nearside.yaml
      choreo guide tour

    Exit codes: 0 feasible or all well, 1 infeasible or a check failed, 2 bad input or usage,
    3 undecided, 130 interrupted.
    """


def main(args: list[str] | None = None) -> Any:
    """Run the command line; a fault of ours prints version and how to report, never a traceback."""
    if sys.stdout is None:
        _tell("choreo: there is no standard output to write to.")
        sys.exit(NOT_WRITTEN)
    _open_standard_error()
    _write_what_can_be_written()
    gc.set_threshold(OBJECTS_BETWEEN_LOOKS)
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, CTRL_C)
    try:
        try:
            return group.main(args=args, prog_name="choreo", standalone_mode=True)
        finally:
            # What is still buffered is written now, where a failure can be told.
            sys.stdout.flush()
    except SystemExit:
        raise
    except Exception as error:
        if isinstance(error, OSError) and _of_output(error):
            _leave_output(error)
        _our_fault(error)
        sys.exit(BUG)


def _open_standard_error() -> None:
    """Let what is said go nowhere when standard error is closed: the next file opened would else get its number."""
    if sys.stderr is None:
        null = os.open(os.devnull, os.O_WRONLY)
        if null != STANDARD_ERROR:
            os.dup2(null, STANDARD_ERROR)
            os.close(null)
        sys.stderr = os.fdopen(STANDARD_ERROR, "w", encoding="utf-8", closefd=False)


def _write_what_can_be_written() -> None:
    """A character that the terminal's encoding lacks is shown as `?`: it must not cost the answer."""
    for stream, errors in ((sys.stdout, "replace"), (sys.stderr, "backslashreplace")):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=errors)


def _of_output(error: OSError) -> bool:
    """Tell a failed write to an open stream from other failures; files are written elsewhere, and told there."""
    return error.filename is None and error.errno in WRITE_FAILURES


def _leave_output(error: OSError) -> NoReturn:
    """End by a standard output that fails: told in a line, unless its reader has just gone (`| head`)."""
    # The interpreter would try once more at its end, and complain.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if error.errno == errno.EPIPE:
        sys.exit(NO)
    _tell(f"choreo: standard output can't be written: {error.strerror or error}.")
    sys.exit(NOT_WRITTEN)


def _tell(line: str) -> None:
    """Say a line on standard error, if that still works."""
    with suppress(OSError):
        click.echo(line, err=True)


def _our_fault(error: Exception) -> None:
    from importlib.metadata import version

    from choreo.words.display import visible

    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    where = "" if place is None else f"{place.tb_frame.f_globals.get('__name__')}:{place.tb_lineno}"
    words = visible(" ".join(str(error).split()))
    _tell(
        f"choreo {version('choreo')} failed by its own fault ({type(error).__name__} in {where}: "
        f"{words}).\nNothing was written. Please report this line with the scenario file."
    )


__all__ = ["BAD_INPUT", "group", "main"]
