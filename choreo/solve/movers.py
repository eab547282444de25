"""A mover's motion: the unknowns and rows that are its own, phase by phase."""

from __future__ import annotations

import math
from typing import assert_never

from choreo.problem.records import Hold, MoverProblem, Phase, Ramp, Wait
from choreo.solve.blocks import after_piece, jerk_of
from choreo.solve.ellipse_rows import add_ellipse
from choreo.solve.formulation import Expression, Formulation, Owner, Passing, twin
from choreo.solve.models import MoverModel, PhaseModel, PieceModel
from choreo.solve.ramp_rows import RampRows
from choreo.solve.ramps import ramp_model
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Margins:
    """By how much a mover's limits are tightened so that they hold between the checked points too."""

    table_mps2: Expression
    lateral_mps2: Expression


def mover_model(
    formulation: Formulation, numeric: MoverProblem, mover: MoverProblem, margins: Margins
) -> MoverModel:
    """Build one mover's motion and the rows that are its own (room, stroke, phases' own lengths).

    numeric: plain numbers, for structure; mover: the same with symbols. margins: tightening of the
    limits that are only checked at points.
    """
    return _Builder(formulation, numeric, mover, margins).build()


class _Builder:
    def __init__(
        self,
        formulation: Formulation,
        numeric: MoverProblem,
        mover: MoverProblem,
        margins: Margins,
    ) -> None:
        self.formulation = formulation
        self.numeric = numeric
        self.mover = mover
        self.margins = margins
        self.pieces: list[PieceModel] = []
        self.phases: list[PhaseModel] = []

    def build(self) -> MoverModel:
        name, start = self.mover.name, self.mover.start
        self.start_m = start.lo
        if not self.numeric.start.fixed:
            self.start_m = self.formulation.unknown(
                f"{name}: start station", start.lo, start.hi, start.lo, "start", Owner(name)
            )
        self.launch_s = 0.0
        if self.numeric.phases:
            self.launch_s = self.formulation.unknown(
                f"{name}: launch", 0, math.inf, 0, "launch", Owner(name)
            )
            if self.numeric.launched_late:
                label, late = f"{name}: its command, at go or later", self.mover.launch_latency_s
                self.formulation.at_least(label, self.launch_s, late, "s", self.numeric.origin)
        self.time, self.station, self.speed = (
            self.launch_s,
            self.start_m,
            self.mover.start_speed_mps,
        )
        for index, (shape, phase) in enumerate(
            zip(self.numeric.phases, self.mover.phases, strict=True)
        ):
            before = (self.time, self.station, self.speed)
            use = self._phase(index, shape, phase)
            self.phases.append(PhaseModel(*before, self.time, self.station, self.speed, use))
        model = MoverModel(
            name,
            self.start_m,
            self.launch_s,
            tuple(self.pieces),
            tuple(self.phases),
            self.time,
            self.station,
            self.numeric.rolls,
        )
        self._room()
        self._curve(model)
        margin = self.margins.lateral_mps2
        add_ellipse(self.formulation, self.numeric, self.mover, model, margin)
        return model

    def _phase(self, index: int, shape: Phase, phase: Phase) -> Expression | None:
        """Add a phase's pieces and own rows; gives how much of its limit a ramp uses where that is free."""
        match shape:
            case Wait():
                if index > 0:  # the first wait is the launch itself
                    wait = twin(shape, phase)
                    lasts = self._duration(index, 1) if shape.for_s is None else wait.for_s
                    self._piece(index, lasts, 0, 0)
                return None
            case Hold():
                self._hold(index, shape, twin(shape, phase))
                return None
            case Ramp():
                return self._ramp(index, shape, twin(shape, phase))
            case _:
                assert_never(shape)

    def _hold(self, index: int, shape: Hold, hold: Hold) -> None:
        if shape.for_s is not None:
            self._piece(index, hold.for_s, 0, 0)
            return
        duration = self._duration(index, hold.settle_s + 1)
        self._piece(index, duration, 0, 0)
        if shape.for_m is not None:
            label = f"{self._label(index)}: length"
            self.formulation.equal(label, duration * self.speed, hold.for_m, "m", shape.origin)

    def _duration(self, index: int, guess_s: Expression) -> Expression:
        label, owner = f"{self._label(index)}: duration", Owner(self.mover.name, index)
        return self.formulation.unknown(label, 0, math.inf, guess_s, "duration", owner)

    def _ramp(self, index: int, shape: Ramp, ramp: Ramp) -> Expression:
        owner = Owner(self.mover.name, index)
        if shape.direction < 0 and self.numeric.braked_late:
            label, late = f"{self._label(index)}: its command", self.mover.brake_latency_s
            self.formulation.at_least(label, self.time, late, "s", shape.origin)
        rows = RampRows(self.formulation, self._label(index), owner, shape, ramp)
        target = ramp.to.lo
        if not shape.to.fixed:
            middle = (ramp.to.lo + ramp.to.hi) / 2
            target = rows.unknown("speed", ramp.to.lo, ramp.to.hi, middle)
        time, station = self.time, self.station
        # Every other mover can delay its launch instead of pausing.
        triggered = self.numeric.launch_trigger is not None
        model = ramp_model(
            rows,
            self.speed,
            target,
            self.margins.table_mps2,
            may_pause=triggered
            and not shape.chosen
            and self.formulation.form.pause_share is not None,
        )
        for link in model.links:
            self._link(index, link.duration_s, link.start_mps2, link.end_mps2)
        self.speed = target
        length, lasting = self.station - station, self.time - time
        if shape.within_m is not None:
            rows.at_least("within", ramp.within_m, length, "m")
        if shape.over_m is not None:
            rows.equal("over", length, ramp.over_m, "m")
        if shape.lasting_s is not None:
            rows.equal("lasting", lasting, ramp.lasting_s, "s")
        return model.use

    def _link(self, index: int, duration: Expression, first: Expression, last: Expression) -> None:
        level = first is last
        jerk = 0 if level else jerk_of(duration, first, last)[0]
        self._piece(index, duration, first, jerk)

    def _piece(self, index: int, duration: Expression, accel: Expression, jerk: Expression) -> None:
        self.pieces.append(
            PieceModel(index, self.time, duration, self.station, self.speed, accel, jerk)
        )
        self.time, self.station, self.speed = after_piece(
            self.time, self.station, self.speed, duration, accel, jerk
        )

    def _room(self) -> None:
        name, mover, numeric = self.mover.name, self.mover, self.numeric
        if not numeric.phases:
            return
        self.formulation.at_least(
            f"{name}: room to stop before the path ends",
            mover.room.hi,
            self.station,
            "m",
            numeric.room_origin,
        )
        if math.isfinite(numeric.stroke_m):
            self.formulation.at_least(
                f"{name}: stroke",
                mover.stroke_m,
                self.station - self.start_m,
                "m",
                numeric.stroke_origin,
            )

    def _curve(self, model: MoverModel) -> None:
        for index, point in enumerate(self.mover.curve):
            where = f"{self.mover.name}: curve point {index + 1}"
            passing = Passing(self.mover.name, "station", point.station_m)
            time = self.formulation.unknown(
                where, -math.inf, math.inf, 0, "time", Owner(self.mover.name), passing
            )
            self.formulation.equal(
                f"{where}: passed", model.virtual_station(time), point.station_m, "m", None
            )
            speed = model.at(time)[1]
            self.formulation.at_least(
                f"{self.mover.name}: lateral acceleration on the curve",
                self.mover.lateral_mps2 - self.margins.lateral_mps2,
                speed**2 * point.curvature_per_m,
                "m/s2",
                self.numeric.lateral_origin,
            )

    def _label(self, index: int) -> str:
        return f"{self.mover.name} {self.mover.phases[index].name}"
