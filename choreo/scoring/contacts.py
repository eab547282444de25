"""When two recorded bodies first touch, where and how fast, or how near they came: by their poses alone."""

from __future__ import annotations

import math

import numpy as np

from choreo.errors.shapes import Placed, Shape, seen_from
from choreo.geometry.bodies import point_ahead_m
from choreo.recordings.record import Floats
from choreo.scenario import Contact
from choreo.scoring.run import RecordedRun
from choreo.words.records import dataclass

# Bodies that part for this long (s) and touch again have two contacts.
APART_S = 0.5
# A face whose normal is turned less than this (cosine) from ahead is the front.
FRONT_COSINE = 0.5


@dataclass(frozen=True, slots=True)
class Touch:
    """Two bodies in one run, SI. time_s: when they first touch, None: never; then least_m and when they were that near.

    left_m, from_rear_m: of the meant point on the one that is hit. front, side: of which face. times: how often they
    touch. already: whether they touch at go.
    """

    time_s: float | None
    least_m: float
    least_s: float
    left_m: float = math.nan
    from_rear_m: float = math.nan
    closing_mps: float = math.nan
    of_mps: float = math.nan
    with_mps: float = math.nan
    front: bool = False
    side: bool = False
    times: int = 0
    already: bool = False


@dataclass(frozen=True, slots=True)
class Headed:
    """A mover as it would have gone on from a moment: along its path, as fast and as far beside it as it was then."""

    mover: str
    from_s: float
    station_m: float
    beside_m: float
    speed_mps: float


def headed_at(run: RecordedRun, mover: str, at_s: float) -> Headed | None:
    """Give where a recorded mover was headed at a moment; None where it isn't known."""
    if mover not in run.movers or not run.known(mover, at_s, at_s):
        return None
    one = run.movers[mover]
    values = [
        float(np.interp(at_s, run.time_s, samples))
        for samples in (one.station_m, one.beside_m, one.track.speed_mps)
    ]
    return Headed(mover, at_s, *values) if np.isfinite(values).all() else None


@dataclass(frozen=True, eq=False)
class _Pair:
    time_s: Floats
    a: Shape
    at_a: Placed
    b: Shape
    at_b: Placed


def touch_of(
    run: RecordedRun,
    of: str,
    with_: str,
    point: Contact | None = None,
    headed: Headed | None = None,
) -> Touch | None:
    """Look at two movers from go on; None where too little of them is known. point: what of the second is meant.

    headed: one of them as it would have gone on.
    """
    pair = _pair(run, of, with_, headed)
    if pair is None:
        return None
    apart = pair.a.separation_m(pair.at_a, pair.b, pair.at_b)
    near = int(np.argmin(apart))
    touching = apart <= 0.0
    if not touching.any():
        return Touch(None, _distance_m(pair, apart), float(pair.time_s[near]))
    first = int(np.argmax(touching))
    times = _times(pair.time_s, touching)
    if first == 0:
        return Touch(float(pair.time_s[0]), 0.0, float(pair.time_s[0]), times=times, already=True)
    part = apart[first - 1] / (apart[first - 1] - apart[first])
    at = float(pair.time_s[first - 1] + part * (pair.time_s[first] - pair.time_s[first - 1]))
    here, there = (_between(one, first, part) for one in (pair.at_a, pair.at_b))
    ahead_m = 0.0
    if point is not None:
        ahead_m = point_ahead_m(run.stage.actors[with_].mover.body, point.point)
    (ahead,), (left,) = seen_from(here, there).points_m(np.array([[ahead_m, 0.0]]))
    meets = _meets(pair, here, there)
    of_mps, with_mps = (_speed(run, name, at, headed) for name in (of, with_))
    return Touch(
        at,
        0.0,
        at,
        float(left[0]),
        float(ahead[0]) + run.stage.actors[of].mover.body.rear_m,
        _closing(meets, here, there, of_mps, with_mps),
        of_mps,
        with_mps,
        meets.front,
        meets.side,
        times,
    )


def _speed(run: RecordedRun, name: str, at: float, headed: Headed | None) -> float:
    if headed is not None and headed.mover == name:
        return headed.speed_mps
    return float(run.performed.motions[name].states(np.array([at]))[1][0])


def _pair(run: RecordedRun, of: str, with_: str, headed: Headed | None) -> _Pair | None:
    """Both bodies at the samples from go on at which both are known; from a reaction on as one was headed."""
    after = run.time_s >= (0.0 if headed is None else headed.from_s)
    placed: list[tuple[Floats, ...]] = []
    for name in (of, with_):
        body = run.stage.actors[name].mover.body
        if headed is not None and headed.mover == name:
            gone = headed.station_m + headed.speed_mps * (run.time_s - headed.from_s)
            one = run.stage.actors[name].shape.place(gone, headed.beside_m)
            placed.append(tuple(np.broadcast_to(part, run.time_s.shape) for part in one))
        elif name in run.movers:
            track = run.movers[name].track
            way = track.heading_rad - body.points_rad
            placed.append((track.x_m, track.y_m, np.cos(way), np.sin(way)))
        elif name in run.standing:
            actor = run.stage.actors[name]
            one = actor.shape.place(np.full(run.time_s.shape, actor.start_m))
            placed.append(tuple(np.broadcast_to(part, run.time_s.shape) for part in one))
        else:
            return None
    known = after & np.isfinite(np.stack([*placed[0], *placed[1]])).all(axis=0)
    if known.sum() < 2:
        return None
    at_a, at_b = (Placed(*(part[known] for part in one)) for one in placed)
    a, b = (run.stage.actors[name].shape for name in (of, with_))
    return _Pair(run.time_s[known], a, at_a, b, at_b)


def _between(one: Placed, first: int, part: float) -> Placed:
    parts = [values[first - 1] + part * (values[first] - values[first - 1]) for values in one]
    x, y, cos, sin = parts
    length = math.hypot(cos, sin)
    return Placed(*(np.array([value]) for value in (x, y, cos / length, sin / length)))


def _times(time_s: Floats, touching: np.ndarray) -> int:
    rises = np.flatnonzero(np.diff(np.concatenate(([0], touching.astype(np.int8)))) == 1)
    falls = np.flatnonzero(np.diff(np.concatenate((touching.astype(np.int8), [0]))) == -1)
    gaps = time_s[rises[1:]] - time_s[falls[:-1]]
    return 1 + int((gaps > APART_S).sum())


@dataclass(frozen=True, slots=True)
class _Meets:
    """Where two bodies meet: front and side of the first, and the normal there in the site frame, from it outwards."""

    front: bool
    side: bool
    normal: tuple[float, float]


def _meets(pair: _Pair, here: Placed, there: Placed) -> _Meets:
    """The edge beyond which the other is says where; on a face of the other it is the first one's corner."""
    (on_a,) = _beyond(pair.a, pair.b, here, there)
    (on_b,) = _beyond(pair.b, pair.a, there, here)
    ahead = pair.a.normals[:, 0]
    if on_a.max() >= on_b.max() - 1e-6:
        best = int(np.argmax(on_a))
        front, side = ahead[best] > FRONT_COSINE, abs(ahead[best]) <= FRONT_COSINE
        return _Meets(bool(front), bool(side), _turned(here, pair.a.normals[best], 1.0))
    edge = pair.b.normals[int(np.argmax(on_b))]
    x, y = seen_from(there, here).points_m(pair.a.corners_m)
    corner = int(np.argmin((edge[0] * x + edge[1] * y)[:, 0]))
    beside = (pair.a.corners_m @ pair.a.normals.T - pair.a.offsets_m)[corner] > -1e-6
    return _Meets(
        bool((ahead[beside] > FRONT_COSINE).any()),
        bool((np.abs(ahead[beside]) <= FRONT_COSINE).any()),
        _turned(there, edge, -1.0),
    )


def _turned(at: Placed, normal: Floats, sign: float) -> tuple[float, float]:
    x, y, cos, sin = float(normal[0]), float(normal[1]), float(at.cos[0]), float(at.sin[0])
    return sign * (cos * x - sin * y), sign * (sin * x + cos * y)


def _closing(meets: _Meets, here: Placed, there: Placed, of_mps: float, with_mps: float) -> float:
    """How fast the bodies near each other across the face on which they meet."""
    x, y = meets.normal
    own = of_mps * (float(here.cos[0]) * x + float(here.sin[0]) * y)
    return own - with_mps * (float(there.cos[0]) * x + float(there.sin[0]) * y)


def _beyond(one: Shape, other: Shape, here: Placed, there: Placed) -> Floats:
    """How far the other is beyond each edge, shape (n, edges)."""
    x, y = seen_from(here, there).points_m(other.corners_m)
    along = one.normals[:, 0, None, None] * x + one.normals[:, 1, None, None] * y
    return np.asarray((along.min(axis=1) - one.offsets_m[:, None]).T)


def _distance_m(pair: _Pair, apart_m: Floats) -> float:
    """The least distance of the two bodies; a separation is never more than the distance."""
    order = np.argsort(apart_m)
    least = math.inf
    for index in order[:200]:
        if apart_m[index] >= least:
            break
        at = slice(index, index + 1)
        here, there = (Placed(*(part[at] for part in one)) for one in (pair.at_a, pair.at_b))
        least = min(least, _apart(pair.a, pair.b, here, there), _apart(pair.b, pair.a, there, here))
    return least


def _apart(one: Shape, other: Shape, here: Placed, there: Placed) -> float:
    """From the corners of the other to the edges of one, the least."""
    x, y = seen_from(here, there).points_m(other.corners_m)
    points = np.concatenate((x, y), axis=1)
    first = one.corners_m
    way = np.roll(first, -1, axis=0) - first
    share = ((points[:, None, :] - first) * way).sum(axis=2) / (way**2).sum(axis=1)
    foot = first + np.clip(share, 0.0, 1.0)[:, :, None] * way
    return float(np.hypot(*np.moveaxis(points[:, None, :] - foot, 2, 0)).min())
