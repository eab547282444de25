"""Codes of room: clearance, stopping, no return, keep-out, sight lines."""

from choreo.words.catalogue.entry import Entry

SPACE: dict[str, Entry] = {
    "space.sight-missed": Entry(
        "A sight that is not first seen when it is wanted",
        "Where what hides it stands decides when it is first seen.",
        "sight `{name}`: {share} of {target} is {seen} from {seer}; wanted: {wanted} to collision",
        "{advice}",
    ),
    "space.sight-never": Entry(
        "A sight that is never seen",
        "Up to the encounter that share of it is hidden.",
        "sight `{name}`: {seer} never sees {share} of {target}",
        "Move what hides it, or ask for a smaller `share`.",
    ),
    "space.sight-glimpse": Entry(
        "A sight that is hidden again",
        "A glimpse is no detection: the first sight may not be the one that counts.",
        "sight `{name}`: {share} of {target} is seen from {seer} only in between: {episodes}",
        "Close the gaps between what hides it, or ask for another `share`.",
    ),
    "space.surface": Entry(
        "The ground takes something from a mover's limits",
        "The least friction and the steepest slope near its path count all along it.",
        "{mover}, on this ground ({surface}): {taken}",
        "The plan keeps to that. The limits of the file are those on level ground with enough grip.",
    ),
    "space.too-slippery": Entry(
        "A mover can't move or stop on this ground",
        "What the slope takes is more than the tyres or the limits give.",
        "{mover} can't {what} on this ground ({surface})",
        "Choose another path or site, or correct `friction` and `slope` in the site file.",
    ),
    "space.rate-over-surface": Entry(
        "A programme asks for more than the ground gives",
        "The least friction and the steepest slope near the path count.",
        "{mover} is to {what} with {rate} m/s2 in its {phase}; this ground ({surface}) leaves {limit} m/s2",
        "Write `{what}: {limit} m/s2` or less, or choose another path or site.",
    ),
    "space.near-miss": Entry(
        "Two bodies come near each other",
        "They don't touch by plan; errors of path and position are not in the distance.",
        "{a} and {b} come within {least} m of each other, {when} s after go at x {x} m, y {y} m; "
        "{wanted} m is asked for",
        "Move one of them, or lower `safety: clearance` if that is meant.",
    ),
    "space.may-touch": Entry(
        "Two bodies may touch that are not to",
        "They don't by plan, but each that drives may be off by its path and position errors.",
        "{a} and {b} come within {least} m of each other, {when} s after go at x {x} m, y {y} m, and both together "
        "may be off by {errors} m",
        "Move one of them, or what brings them there at that time; if they keep to their paths more closely, lower "
        "`safety: path error`.",
    ),
    "space.leaves-site": Entry(
        "What may be swept leaves the drivable area",
        "By plan or by a stop from any instant, path and position errors included.",
        "movers may leave the drivable area by {margin} m ({area} m2), worst at x {x} m, y {y} m ({edge})",
        "Place the test elsewhere (`choreo place`), lower speeds, or shorten reaction times.",
    ),
    "space.near-edge": Entry(
        "What may be swept comes near the edge of the drivable area",
        "By plan or by a stop from any instant, path and position errors included.",
        "movers may come within {margin} m of {edge}, at x {x} m, y {y} m; {wanted} m is asked for",
        "Place the test elsewhere (`choreo place`), or accept it with the site's staff.",
    ),
    "space.path-short": Entry(
        "A stop may run beyond the end of a path",
        "Beyond its end the path is taken to go on straight.",
        "a failsafe stop of {mover} may need {short} m beyond the end of its path",
        "Make the path longer, so that what lies there is looked at.",
    ),
    "space.stop-touches": Entry(
        "A stop may end in something that stands",
        "A stop from any instant goes along the path or straight on, whichever is worse.",
        "a failsafe stop of {mover} may touch {other}",
        "Move {other}, or keep the speed low where {mover} points at it.",
    ),
    "space.no-way-back": Entry(
        "A run can't be broken off",
        "Even when all stop together something touches, from the start on.",
        "{encounter}: once under way the run can't be broken off by stopping all movers together",
        "Stop the following mover first, start farther apart, or give faster failsafe stops.",
    ),
    "space.surface-decides": Entry(
        "The ground decides, and it is not the same all along",
        "The worst of it was taken everywhere: safe for a plan, no proof that there is none.",
        "with the least friction and the steepest slope all along the paths no plan exists; with the limits as "
        "written there may be one",
        "Draw the areas of the site more finely, or keep the paths off the worst of them.",
    ),
    "space.no-stop": Entry(
        "A stop leads onto ground on which it can't brake",
        "Off its path a stop may reach other ground than the path does; the worst of it counts.",
        "a failsafe stop of {mover} may reach ground on which it can't brake",
        "Keep the path farther from that ground, or draw it as an obstacle.",
    ),
    "space.slides": Entry(
        "Braking in a bend asks for more grip than there is",
        "Braking and cornering at once need the root of the sum of their squares (circle of friction).",
        "{what} of {mover} may slide at station {station} m: {lateral} m/s2 sideways and {braking} m/s2 of braking are "
        "together more than {grip} m/s2 of grip ({whose})",
        "Take the bend slower, or brake less there (`failsafe:` for stops).",
    ),
    "space.stop-combined": Entry(
        "A failsafe stop in a bend asks for more than the ellipse leaves",
        "With `combined: ellipse` braking and cornering share what a mover can do.",
        "a failsafe stop of {mover} may need {share} % of what it can do together at station {station} m: {lateral} "
        "m/s2 sideways and {braking} m/s2 of braking",
        "Take the bend slower, or give `failsafe:` a gentler brake.",
    ),
    "space.cone-touched": Entry(
        "A cone is touched",
        "What the body sweeps by plan is never taken for too small; a run that touches a cone doesn't count.",
        "{mover} touches the cone `{cone}` of {path} at station {station} m by {depth} (x {x} m, y {y} m)",
        "{instead}",
    ),
    "space.cone-near": Entry(
        "A driven line keeps less of a cone than it is asked to",
        "No line was found that keeps its `margin` of all cones; the one that is used is the nearest to it.",
        "{mover} comes within {clear} m of the cone `{cone}` of {path} at station {station} m (x {x} m, y {y} m), and "
        "{asked} m of margin are asked for",
        "Take a smaller `margin`, a narrower body, or lay the course out for its width.",
    ),
    "space.aside": Entry(
        "There is no room beside the straight on which a mover is steered by angle",
        "Its planned motion is that of the straight: how far aside it comes is counted, and must fit.",
        "{mover} is steered to and fro on {path}: {what}",
        "{instead}",
    ),
    "space.aside-counted": Entry(
        "A mover is steered by angle: where it is beside its straight, no plan knows",
        "The simulation drives the straight; the room beside it is counted to both sides, all along.",
        "{mover} is steered to and fro on {path}; counted, to either side from station {from} to {to} m: {middle} m "
        "of its middle, {reach} m of its body, as of {lateral} m/s2 sideways at {speed}, in the area swept, the "
        "keep-out zone and the clearance. Peaks, cones, the point of no return and what the simulation agrees to are "
        "those of the straight; a mover that slides or spins, and how it is steered back, are not counted",
        "Keep the ground beside it free as far as a car out of control may come.",
    ),
    "space.past-course": Entry(
        "A mover starts behind the manoeuvre of its course",
        "What the course is there for isn't driven then; encounters may be met all the same, on the straight behind.",
        "{mover} drives nothing of the manoeuvre of {course}: it starts at station {start} m, the manoeuvre ends at "
        "{end} m",
        "Bound its `start: {{station: ...}}`, or settle it by `start of {mover}. ...`.",
    ),
    "space.rolls-on": Entry(
        "A mover rolls on if a trigger fails",
        "The keep-out zone holds the plan and stops from any instant, not what happens when a trigger never fires.",
        "{mover} ends its {phase} at trigger {trigger}: should that fail it rolls on to the end of its path, which the "
        "keep-out zone doesn't hold",
        "Keep its whole path clear, or let it stop by itself (`for:` a time or a length).",
    ),
}
