"""A plan in plain characters: a small plan view and a strip of time, for a terminal or a mail."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

import numpy as np

from choreo.geometry import Path
from choreo.plans.record import MoverPlan, Plan
from choreo.scenario import AnchorSpec
from choreo.words.display import plain
from choreo.words.records import dataclass

# Characters: a narrower terminal is taken for this wide; the view's height leaves room for the strip on one screen.
LEAST_WIDTH = 40
MOST_ROWS = 16
LEAST_ROWS = 3
# A character cell is about twice as high as it is wide.
CELL_RATIO = 2.0
MARGIN_COLUMNS = 2
LONGEST_NAME = 12
# A long thin run is drawn wider across, up to so many rows and so many times.
ROWS_ACROSS = 9
MOST_STRETCH = 20
LEAST_ACROSS_M = 0.5


@dataclass(frozen=True, slots=True)
class Canvas:
    """Cells and the scale: metres a column, site coordinates of the upper left cell's middle.

    stretch: how many times as large y is drawn as x.
    """

    cells: list[list[str]]
    metres_a_column: float
    left_m: float
    top_m: float
    stretch: int = 1

    def put(self, x_m: float, y_m: float, sign: str, *, over: bool) -> None:
        """Write a sign into the cell of a place; without over only where it is blank."""
        column = round((x_m - self.left_m) / self.metres_a_column)
        row = round((self.top_m - y_m) * self.stretch / (self.metres_a_column * CELL_RATIO))
        inside = 0 <= row < len(self.cells) and 0 <= column < len(self.cells[0])
        if inside and (over or self.cells[row][column] == " "):
            self.cells[row][column] = sign


def picture_of(
    plan: Plan, paths: Mapping[str, Path], width: int, anchor: AnchorSpec | None = None
) -> tuple[str, ...]:
    """Draw where everybody runs, and who does what when, in lines of at most width characters.

    paths: by mover. anchor: where the site lies on earth, if that is known. Empty for a plan without motion.
    """
    if not any(mover.pieces for mover in plan.movers.values()):
        return ()
    width = max(width, LEAST_WIDTH)
    signs = signs_of(plan.movers)
    view = _plan_view(plan, paths, signs, width, up_words(anchor))
    return ("", *view, "", *_time_strip(plan, signs, width))


def up_words(anchor: AnchorSpec | None) -> str:
    """Say which way is up in a picture whose x axis runs to the right."""
    if anchor is None:
        return "y up"
    bearing_deg = (anchor.bearing_deg - 90) % 360
    return "north up" if bearing_deg in (0, 360) else f"up is {plain(bearing_deg, 0)} deg"


def signs_of(movers: Iterable[str]) -> dict[str, str]:
    """Give each mover a capital letter: its own first one where it is free."""
    signs: dict[str, str] = {}
    for name in movers:
        wanted = [c.upper() for c in name if c.isascii() and c.isalpha()]
        free = [
            c for c in (*wanted, *"ABCDEFGHIJKLMNOPQRSTUVWYZ") if c not in (*signs.values(), "X")
        ]
        signs[name] = free[0] if free else "?"
    return signs


def _plan_view(
    plan: Plan, paths: Mapping[str, Path], signs: dict[str, str], width: int, up: str
) -> list[str]:
    tracks = {name: _track(mover, paths[name]) for name, mover in plan.movers.items()}
    canvas = _canvas(tracks, width)
    for x, y, heading in tracks.values():
        for at in zip(x, y, heading, strict=True):
            canvas.put(
                float(at[0]), float(at[1]), _stroke(float(at[2]), canvas.stretch), over=False
            )
    for name, (x, y, _) in tracks.items():
        canvas.put(float(x[-1]), float(y[-1]), signs[name].lower(), over=True)
    for trigger in plan.triggers.values():
        if trigger.station_m is not None:
            at_trigger = paths[trigger.watch].pose(np.array([trigger.station_m]))
            canvas.put(float(at_trigger.x_m[0]), float(at_trigger.y_m[0]), "!", over=True)
    for name, (x, y, _) in tracks.items():
        canvas.put(float(x[0]), float(y[0]), signs[name], over=True)
    for encounter in plan.encounters.values():
        if encounter.place is not None:
            canvas.put(*encounter.place, "X", over=True)
    lines = ["".join(row).rstrip() for row in canvas.cells]
    across = f", y is drawn {canvas.stretch} times as large" if canvas.stretch > 1 else ""
    head = f"plan view, {up}, a column is {canvas.metres_a_column:.3g} m{across}"
    return [*_wrapped(head, width), *lines, *_legend(plan, signs, width)]


def _track(mover: MoverPlan, path: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Poses from the start mark to rest."""
    stations = [mover.start.station_m, *(event.station_m for event in mover.events)]
    count = 2000 if max(stations) > min(stations) else 1
    poses = path.pose(np.linspace(stations[0], max(stations), count))
    return poses.x_m, poses.y_m, poses.heading_rad


def _canvas(tracks: Mapping[str, tuple[np.ndarray, ...]], width: int) -> Canvas:
    xs = np.concatenate([track[0] for track in tracks.values()])
    ys = np.concatenate([track[1] for track in tracks.values()])
    wide, high = float(np.ptp(xs)), float(np.ptp(ys))
    columns = width - 2 * MARGIN_COLUMNS
    scale = max(wide / (columns - 1), high / (CELL_RATIO * (MOST_ROWS - 1)), 1 / columns)
    stretch = 1
    if high > LEAST_ACROSS_M and high < (ROWS_ACROSS - 1) * scale * CELL_RATIO:
        stretch = min(int((ROWS_ACROSS - 1) * scale * CELL_RATIO / high), MOST_STRETCH)
    rows = max(math.ceil(high * stretch / (scale * CELL_RATIO)) + 1, LEAST_ROWS)
    left = (float(xs.min()) + float(xs.max())) / 2 - scale * (width - 1) / 2
    top = (float(ys.min()) + float(ys.max())) / 2 + scale * CELL_RATIO * (rows - 1) / (2 * stretch)
    return Canvas([[" "] * width for _ in range(rows)], scale, left, top, stretch)


def _stroke(heading_rad: float, stretch: int) -> str:
    """The character that lies nearest to a direction, in cells twice as high as wide."""
    across = stretch * math.sin(heading_rad) / CELL_RATIO
    slope = math.degrees(math.atan2(across, math.cos(heading_rad))) % 180
    return "-/|\\-"[round(slope / 45)]


def _legend(plan: Plan, signs: dict[str, str], width: int) -> list[str]:
    entries = [
        f"{sign} {name}" + (f" ({sign.lower()} at rest)" if plan.movers[name].pieces else "")
        for name, sign in signs.items()
    ]
    entries += ["! trigger"] if plan.triggers else []
    entries += ["X encounter"] if plan.encounters else []
    return legend_lines(entries, width)


def legend_lines(entries: Iterable[str], width: int) -> list[str]:
    """Lay entries of a legend out in lines of at most width characters."""
    lines = [""]
    for one in entries:
        together = f"{lines[-1]}   {one}" if lines[-1] else one
        if len(together) <= width:
            lines[-1] = together
        else:
            lines.append(one[:width])
    return lines


def _time_strip(plan: Plan, signs: dict[str, str], width: int) -> list[str]:
    label = min(max(len(name) for name in plan.movers), LONGEST_NAME) + 3
    columns = width - label
    end_s = max(
        piece.start_s + piece.duration_s for mover in plan.movers.values() for piece in mover.pieces
    )
    lines = [
        f"{signs[name]} {name[: label - 3]:<{label - 2}}" + _row(mover, end_s, columns)
        for name, mover in plan.movers.items()
    ]
    head = "time strip: . waits  / gains speed  = holds  \\ loses speed  _ stands"
    marks = [" "] * columns
    for trigger in plan.triggers.values():
        marks[_column(trigger.time_s, end_s, columns)] = "!"
    for encounter in plan.encounters.values():
        marks[_column(encounter.time_s, end_s, columns)] = "X"
    marked = [" " * label + "".join(marks).rstrip()] if "".join(marks).strip() else []
    return [*_wrapped(head, width), *lines, *marked, " " * label + _ruler(end_s, columns)]


def _wrapped(head: str, width: int) -> list[str]:
    if len(head) <= width:
        return [head]
    middle = max(head.rfind("  ", 0, width), head.rfind(", ", 0, width) + 1)
    return [head[:middle], head[middle:].strip()]


def _row(mover: MoverPlan, end_s: float, columns: int) -> str:
    return "".join(_sign_at(mover, end_s * (i + 0.5) / columns) for i in range(columns))


def _sign_at(mover: MoverPlan, time_s: float) -> str:
    for piece in mover.pieces:
        if piece.start_s <= time_s < piece.start_s + piece.duration_s:
            gained = piece.accel_mps2 + piece.jerk_mps3 * piece.duration_s / 2
            return "=" if abs(gained) * piece.duration_s * 100 < 1 else "/" if gained > 0 else "\\"
    return "." if mover.pieces and time_s < mover.pieces[0].start_s else "_"


def _column(time_s: float, end_s: float, columns: int) -> int:
    return min(int(columns * time_s / end_s), columns - 1)


def _ruler(end_s: float, columns: int) -> str:
    """Seconds after go under the columns where they fall, at a round step."""
    least = 9 * end_s / columns
    power = 10.0 ** math.floor(math.log10(least))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= least)
    cells = [" "] * columns
    for i in range(math.floor(end_s / step) + 1):
        words = plain(i * step, max(0, -math.floor(math.log10(step)))) + (" s" if i == 0 else "")
        at = _column(i * step, end_s, columns)
        if at + len(words) <= columns:
            cells[at : at + len(words)] = words
    return "".join(cells).rstrip()
