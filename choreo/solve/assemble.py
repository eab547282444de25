"""Problem -> formulation: unknowns, named rows and the objective, as symbols."""

from __future__ import annotations

from typing import Any, assert_never

import casadi as ca

from choreo.problem.numbers import numbers_of, replace_numbers
from choreo.problem.records import GapAt, Problem
from choreo.solve.couplings import add_couplings
from choreo.solve.events import Events
from choreo.solve.formulation import Expression, Form, Formulation
from choreo.solve.models import MoverModel
from choreo.solve.movers import Margins, mover_model
from choreo.solve.tolerances import STEADIER, TIE_BREAK_GENTLE, TIE_BREAK_QUICK
from choreo.words.records import dataclass

# First guess (s) of the time of the last encounter: not far below any run, so that the first step needn't be long.
SOME_RUN_S = 60


@dataclass(frozen=True)
class Assembly:
    """A formulation with its parameters and its objective, and the models that its solution is read off."""

    formulation: Formulation
    parameters: Expression
    objective: Expression
    movers: dict[str, MoverModel]
    events: Events


def assemble(numeric: Problem, form: Form) -> Assembly:
    """Write a problem as a nonlinear one whose parameters are the problem's numbers.

    form: which formulation is written for the structure.
    The order of parameters is numbers_of(problem), then per mover the two margins.
    """
    symbols: list[Any] = []

    def symbol(path: str, _value: float) -> Any:
        symbols.append(ca.SX.sym(path))
        return symbols[-1]

    problem = replace_numbers(numeric, symbol)
    if len(symbols) != len(numbers_of(numeric)):
        raise AssertionError("numbers_of and replace_numbers disagree")
    formulation = Formulation(form)
    movers: dict[str, MoverModel] = {}
    for shape, mover in zip(numeric.movers, problem.movers, strict=True):
        margins = Margins(ca.SX.sym(f"{mover.name}.table"), ca.SX.sym(f"{mover.name}.lateral"))
        symbols += [margins.table_mps2, margins.lateral_mps2]
        movers[mover.name] = mover_model(formulation, shape, mover, margins)
    events = add_couplings(formulation, numeric, problem, movers)
    objective = _objective(formulation, numeric, movers, events)
    for instant in problem.instants:
        events.times.setdefault(instant.name, events.time(instant.before) - instant.by_s)
    return Assembly(formulation, ca.vertcat(*symbols), objective, movers, events)


def _objective(
    formulation: Formulation, numeric: Problem, movers: dict[str, MoverModel], events: Events
) -> Expression:
    uses = [
        (f"{name} {shape.name}", phase.use)
        for name, model in movers.items()
        for shape, phase in zip(numeric.mover(name).phases, model.phases, strict=True)
        if phase.use is not None
    ]
    gentle = sum((use for _, use in uses), start=ca.SX(0))
    times = [model.launch_s for model in movers.values() if model.phases]
    times += list(_meeting_times(numeric, events)) + [m.end_s for m in movers.values() if m.phases]
    quick = sum(times, start=ca.SX(0))
    match numeric.prefer:
        case "shortest runway" | "smallest error":  # what may be off is looked at outside
            primary = sum((m.end_m - m.start_m for m in movers.values()), start=ca.SX(0))
        case "gentlest ramps":
            primary = _largest(formulation, uses)
        case "quickest run":
            primary = _last(formulation, numeric, movers, events)
        case _:
            assert_never(numeric.prefer)
    steady = sum(events.drifts, start=ca.SX(0))
    return primary + STEADIER * steady + TIE_BREAK_GENTLE * gentle + TIE_BREAK_QUICK * quick


def _largest(formulation: Formulation, uses: list[tuple[str, Expression]]) -> Expression:
    """The largest share of its limit that any ramp uses."""
    most = formulation.unknown("largest use of a limit", 0, 1, 1, "use")
    for name, use in uses:
        formulation.at_least(f"{name}: not the largest use", most, use, "1", None)
    return most


def _meeting_times(numeric: Problem, events: Events) -> list[Expression]:
    return [events.times[encounter.name] for encounter in numeric.encounters]


def _last(
    formulation: Formulation, numeric: Problem, movers: dict[str, MoverModel], events: Events
) -> Expression:
    """Time from go to the last encounter (to the last standstill where there is none)."""
    ends = [one.until for one in numeric.encounters if isinstance(one, GapAt)]
    times = _meeting_times(numeric, events)
    times += [events.time(until) for until in ends if until is not None]
    times = times or [m.end_s for m in movers.values() if m.phases]
    last = formulation.unknown("last encounter: time", 0, ca.inf, SOME_RUN_S, "time")
    for time in times:
        formulation.at_least("last encounter: not before any other", last, time, "s", None)
    return last
