"""Codes of the geometry layer."""

from choreo.words.catalogue.entry import Entry

GEOMETRY: dict[str, Entry] = {
    "geometry.pieces-apart": Entry(
        "A piece starts elsewhere than its author says",
        "A piece may state with `at` where it starts; the chain of pieces before it must lead there to "
        "within a centimetre.",
        "path `{path}`: piece {piece} is said to start at {stated}, but the pieces before it end at "
        "{reached}: {distance} apart",
        "Correct the pieces before it, or leave `at` out.",
    ),
    "geometry.loop-open": Entry(
        "A closed path doesn't come back to its beginning",
        "`closed: yes` says that the last piece ends where the first one begins, to within 1 cm, and in its "
        "direction, to within 0.1 deg.",
        "path `{path}` is said to be closed, but it ends at {reached}, {distance} from where it begins, "
        "{start}, and turned by {turned} against its beginning",
        "Correct its pieces (a survey ends with its first point once more), or leave `closed` out.",
    ),
    "geometry.beside-cusps": Entry(
        "A path beside one that changes its direction",
        "Where a path turns back, a path beside it would have to jump to its other side.",
        "path `{path}` runs beside `{base}`, which changes between forwards and backwards on its way",
        "Lay it beside a path that goes one way, or write its own pieces.",
    ),
    "geometry.piece-empty": Entry(
        "A piece of a path has no size",
        "Lengths and radii are above zero; angles and offsets aren't zero.",
        "path `{path}`: the {what} is {value}",
        "Write a size above zero (for angles and offsets: left +, right -), or leave the piece out.",
    ),
    "geometry.bend-outer-tighter": Entry(
        "A bend's outer radius is not larger than its inner one",
        "The clothoids of a bend lead from the wide outer radius to the tight inner one.",
        "path `{path}`: the bend's outer radius {outer} is not larger than its radius {radius}",
        "Write an `outer radius` larger than `radius`, or leave it out (straight).",
    ),
    "geometry.bend-too-short": Entry(
        "A bend's clothoids turn more than the whole bend",
        "The total angle is twice the clothoid angle and the arc's angle.",
        "path `{path}`: the bend turns {angle} in all, its two clothoids alone {clothoids} ({clothoid} each)",
        "Make the clothoids shorter, or write a larger `angle`.",
    ),
    "geometry.shift-too-steep": Entry(
        "A shift would have to turn across",
        "A shift that turned by more than 90 degrees would run backwards.",
        "path `{path}`: no shift of {offset} fits in a length of {length} without turning beyond 90 deg",
        "Write a longer shift, a smaller offset, or build the turn from arcs.",
    ),
    "geometry.shift-transition-too-long": Entry(
        "A shift's changes of curvature need more than its length",
        "Curvature changes over one, two and one transition lengths; they must fit in the shift.",
        "path `{path}`: transitions of {transition} don't fit into a shift of {length}; at most about {most}",
        "Write a shorter `transition`.",
    ),
    "geometry.shift-radius-too-large": Entry(
        "A shift needs a tighter radius",
        "Two plain arcs of the given radius are the shortest shift there is.",
        "path `{path}`: a shift with no radius below {radius} needs {least}, there are {length}",
        "Write a longer shift or a smaller radius.",
    ),
    "geometry.shift-radius-too-small": Entry(
        "A shift never gets as tight as asked",
        "Even when the curvature changes all along the shift, so long a one stays wider.",
        "path `{path}`: a shift that reaches the radius {radius} is at most {most} long, asked is {length}",
        "Write a larger radius, or give a `transition` instead of the radius.",
    ),
    "geometry.mark-twice": Entry(
        "Two pieces of a path have the same name",
        "A piece's name is a mark that events refer to.",
        "path `{path}`: the name `{mark}` is given to two pieces",
        "Give one of them another name.",
    ),
    "geometry.survey-too-few": Entry(
        "A surveyed path has too few points",
        "A curve needs at least two points.",
        "path `{path}`: its survey has {count} point(s)",
        "Survey at least two points.",
    ),
    "geometry.survey-repeats": Entry(
        "Two neighbouring points of a survey are the same",
        "Between equal points there is no direction.",
        "path `{path}`: its points {first} and {second} are the same, at {point}",
        "Remove one of them.",
    ),
    "geometry.survey-folds": Entry(
        "A surveyed path folds back",
        "At a point the survey turns by 90 degrees or more; points are probably out of order.",
        "path `{path}`: at its point {number}, {point}, it turns by 90 deg or more",
        "Check the points' order, or survey more points in the turn.",
    ),
    "geometry.beside-unknown": Entry(
        "A path lies beside one that doesn't exist",
        "`beside` names another path of the scenario or its site.",
        "path `{path}` is beside `{base}`, which doesn't exist",
        "Write the name of a path.",
    ),
    "geometry.beside-loop": Entry(
        "Paths lie beside each other in a circle",
        "Each of them is defined by the next.",
        "path `{path}` is beside itself: {loop}",
        "Give one of them a start and pieces.",
    ),
    "geometry.beside-range": Entry(
        "The part of the base path doesn't exist",
        "`from` and `to` are stations of the base path, `from` before `to`.",
        "path `{path}` is beside `{base}` from {low} to {high}; that path goes from 0 m to {length}",
        "Write stations of the base path, `from` smaller than `to`.",
    ),
    "geometry.offset-too-tight": Entry(
        "A path beside a bend has no room inside it",
        "Beside a curve, towards its centre, the offset must stay below the radius.",
        "path `{path}` is {offset} beside `{base}`, whose radius to that side goes down to {radius}",
        "Write a smaller offset, the other side, or use only a part of the base with `from` and `to`.",
    ),
}
