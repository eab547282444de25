"""Where on the subject a contact lands: the other's point in the subject's frame, and the face touched."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.scenario import Body
from choreo.verification.separation import Figure, Pair, Placed, into_frame, separation_m
from choreo.verification.tolerances import CLOSING_S, FACE_M
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# A face turned up to this far from straight ahead is still the front: chamfered bumpers.
FRONT_COSINE = 0.5


@dataclass(frozen=True, slots=True)
class Impact:
    """A contact in the subject's frame: value wanted by the face, faces touched, place in site
    axes.

    lateral_m: left positive; from_rear_m: along the subject from its rear end.
    """

    lateral_m: float
    from_rear_m: float
    faces: frozenset[str]
    place_m: tuple[float, float]
    closing_mps: float


def impact_at(pair: Pair, t_s: float, body_a: Body, body_b: Body, point: str) -> Impact:
    """Measure a contact at the instant t_s in s at which the bodies touch.

    body_a: the subject's. point: which point of the other is meant: reference, front centre,
    rear centre.
    """
    # Then, and just before, for how fast they near each other.
    times = np.array([t_s, t_s - CLOSING_S, t_s - 2.0 * CLOSING_S])
    s_a, s_b = pair.stations(times)
    at_a, at_b = pair.a.place(s_a), pair.b.place(s_b)
    forward, left = into_frame(at_a, at_b, meant_point(body_b, point))[0, 0]
    touching = _touching_points(pair, at_a, at_b)
    middle = touching.mean(axis=0)
    cos, sin = float(at_a.cos[0]), float(at_a.sin[0])
    place = (
        float(at_a.x_m[0] + cos * middle[0] - sin * middle[1]),
        float(at_a.y_m[0] + sin * middle[0] + cos * middle[1]),
    )
    # A difference of second order: braking does not blur it.
    gaps = separation_m(pair.a, at_a, pair.b, at_b)
    return Impact(
        lateral_m=float(left),
        from_rear_m=float(forward + body_a.rear_m),
        faces=_faces(pair.a, touching),
        place_m=place,
        closing_mps=float(gaps @ np.array([-3.0, 4.0, -1.0])) / (2.0 * CLOSING_S),
    )


def meant_point(body: Body, point: str) -> Array:
    """Give a named point of a body in its own frame in m, shape (1, 2)."""
    ahead = {"reference": 0.0, "front centre": body.front_m, "rear centre": -body.rear_m}
    return np.array([[ahead[point], 0.0]])


def _touching_points(pair: Pair, at_a: Placed, at_b: Placed) -> Array:
    """Corners of either body on the other, in a's frame, shape (n, 2); at the first place bodies barely touch."""
    corners_b = into_frame(at_a, at_b, pair.b.corners_m)[0]
    seen_from_b = into_frame(at_b, at_a, pair.a.corners_m)[0]
    on_a = (corners_b @ pair.a.normals.T - pair.a.offsets_m).max(axis=1)
    on_b = (seen_from_b @ pair.b.normals.T - pair.b.offsets_m).max(axis=1)
    points = np.concatenate((corners_b[on_a <= FACE_M], pair.a.corners_m[on_b <= FACE_M]))
    if len(points):
        return np.asarray(points)
    return np.asarray(corners_b[[int(on_a.argmin())]])


def _faces(figure: Figure, touching: Array) -> frozenset[str]:
    """Faces on which all touching points lie, else (round a corner) those on which any does.

    A single touching corner belongs to both its faces.
    """
    near = np.abs(touching @ figure.normals.T - figure.offsets_m) <= 2 * FACE_M
    shared = near.all(axis=0)
    faces = set()
    for edge in np.flatnonzero(shared if shared.any() else near.any(axis=0)):
        ahead = figure.normals[edge, 0]
        faces.add("front" if ahead > FRONT_COSINE else "rear" if ahead < -FRONT_COSINE else "side")
    return frozenset(faces)
