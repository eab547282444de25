"""The JSON Schema of scenario files: the file models' own, with words for editors.

Every scalar is text there, as the loader reads it; numbers and booleans are allowed where YAML readers of
editors make them from `choreo: 1` and `reversed: no`.
"""

from __future__ import annotations

from typing import Any

from choreo.scenario.written import scenario as w
from choreo.words.kinds import CONDITIONS, PATH_KINDS, PHASE_KINDS, PIECE_KINDS

# What an editor shows beside each key, by model.
WORDS: dict[str, dict[str, str]] = {
    "FileWritten": {
        "choreo": "the format's version: 1",
        "title": "what is staged, in one line",
        "about": "free text",
        "conditions": "words and figures by name that are printed, and change no number: {light: 20 lux}",
        "prefer": "which plan is wanted of all that work; also `highest NAME` or `lowest NAME` of an open quantity",
        "site": "a site file with shared paths, relative to this file",
        "fleet": "a fleet file (or a list of them) for `like:`, relative to this file",
        "values": "named quantities, used as `$name` wherever a quantity stands",
        "vary": "a test matrix: lists of quantities or steps, each with each of the others",
        "together": "lists of one length that are varied in step",
        "without": "combinations of the matrix that are left out",
        "keep": "quantities that `choreo why` must not propose to change, by the names it uses",
        "cheap": "quantities that `choreo why` proposes first, by the names it uses",
        "paths": "planar curves by name",
        "movers": "everything that moves or stands by plan; `subject` is the vehicle under test",
        "triggers": "conditions on one mover that launch another or end its hold",
        "encounters": "intended meetings: contact, gap or pass",
        "instants": "named moments; the plan tells every mover's state then",
        "sights": "what one mover sees of another past what stands between, and when",
        "placed": "everything above turned and shifted as a whole, as `choreo place` tells",
        "safety": "margins that the run is judged by; all have defaults",
        "rules": "the rule set that it is held against, and the family of tests it belongs to",
    },
    "RulesNamedWritten": {
        "set": "a bundled rule set by its name, like en-fc-1.1, or a rule set file relative to this file",
        "family": "the family of tests, as `choreo rules SET` lists them",
    },
    "PlacedWritten": {
        "on": "the site file on whose ground it lies then; default: the scenario's own",
        "at": "where the origin of the frame lies, [x, y] on that site",
        "turned": "by how much the frame is turned first, counter-clockwise",
    },
    "SafetyWritten": {
        "clearance": "bodies that come nearer than this are warned of; default 0.5 m",
        "abort margin": "by how much the contact must be avoided when a run is broken off; default 0.5 m",
        "keep out": "added round everything that may be swept; default 10 m",
        "path error": "how far movers may be beside their paths; default 0.15 m",
        "position error": "of the position measurement; default 0.03 m",
    },
    "PathWritten": {
        "start": "where the first piece begins, [x, y] in the site frame",
        "heading": "direction there, counter-clockwise from x (east)",
        "pieces": "line, arc, clothoid, bend, shift, one after the other",
        "closed": "yes: its end meets its beginning, and it is driven round and round",
        "beside": "another path that this one runs beside",
        "offset": "sideways distance from that path, + to its left",
        "reversed": "yes: in the opposite direction",
        "from": "first station of the other path that is used",
        "to": "last station of the other path that is used",
        "surveyed": "a CSV file of points with the header x_m,y_m, relative to this file",
        "course": "a course laid out by its name, like ISO 3888-2",
        "vehicle width": "of a course: the width without mirrors that its lanes are laid out for",
        "offset read as": "of a course: which edges its offset joins",
        "last width": "of a course: the width of its last lane",
        "lane width": "of a course: the width of its lane, for its cones and edges",
        "radius": "of a course: the circle's radius",
        "angle": "of a course: how far it turns",
        "clothoid": "of a course: the length between straight and circle; default 30 m, at most the radius",
        "laps": "of a course, or of a closed path through points: how often it goes round; default 1",
        "spacing": "of a course: from one cone to the next",
        "count": "of a course: how many cones stand in a row",
        "aside": "of a course: how far from its cones the path passes, or how far aside it leads",
        "speed": "of a course: the speed that it is laid out for",
        "lateral speed": "of a course: the speed at which the lane is left",
        "lateral acceleration": "of a weave: its largest",
        "frequency": "of a weave: cycles in a second",
        "wheel angle": "of a sine with dwell: the steering wheel's angle at 3 m/s2, for its figures",
        "length": "of a lane change: how far ahead it ends",
        "departure": "of a course: unintentional, intentional or alternative",
        "side": "of a course: farside or nearside",
        "turn": "of a course: left or right; default left",
        "run-up": "of a course: the straight before it; default 100 m",
        "run-out": "of a course: the straight behind it; default 100 m",
        "line": "of a course: how the line through it is found; default centres",
        "margin": "of a course: what a driven line keeps of cones and edges; default 0.05 m",
    },
    "PieceWritten": {
        "line": "a straight of this length",
        "arc": "a circular arc",
        "clothoid": "curvature changing in proportion to length",
        "bend": "clothoid, arc, clothoid",
        "shift": "a move sideways, parallel again at its end",
        "name": "makes it a mark: `start of MOVER.NAME`",
        "at": "where the author believes it starts; checked to a centimetre",
        "speed": "of a drive: at most `30 km/h`, or a window, `28..32 km/h`",
        "surface": "what it is made of, a name",
        "bank": "of a curve: its inside lies lower by this angle; below 0: its outside",
        "drive": "backwards: it is driven with the rear ahead; where that changes its mover stops",
        "repeat": "how often the pieces below are laid one after the other; their names are counted",
        "pieces": "the pieces that are repeated",
    },
    "ArcWritten": {"radius": "radius", "angle": "turn, + to the left"},
    "ClothoidWritten": {
        "length": "length along the path",
        "from": "radius at its start, + left, - right, or `straight`",
        "to": "radius at its end, + left, - right, or `straight`",
    },
    "BendWritten": {
        "radius": "radius of the arc in the middle",
        "angle": "total turn, + to the left",
        "arc angle": "turn of the arc alone, instead of `angle`",
        "clothoid angle": "turn of each clothoid",
        "clothoid length": "length of each clothoid, instead of `clothoid angle`",
        "outer radius": "radius at both outer ends; default straight",
    },
    "ShiftWritten": {
        "offset": "sideways distance, + to the left",
        "length": "length along the direction at its start",
        "path length": "length along the path, instead of `length`",
        "radius": "tightest radius; the transitions are then solved",
        "transition": "length of each change of curvature; default a tenth of the length",
    },
    "MoverWritten": {
        "kind": "what it is; default subject if named so, else vehicle",
        "like": "an entry of the fleet file; own keys win",
        "path": "the path it follows",
        "drive": "backwards: the body points the other way than it goes; default forwards",
        "stand": "where a thing without path stands",
        "turns": "of a door: the hinge that it turns about, and how far",
        "body": "its outline round the reference point",
        "limits": "what it can do",
        "usual": "rates that it is driven with where none is written",
        "launch": "how its drive launches it from rest",
        "brake latency": "from the command to brake to the motion",
        "errors": "what may be off from run to run: `x +/- y` normal, `a..b` uniform, alone a standard deviation",
        "tolerances": "how far it may be off for a run to count",
        "start": "where it is before go",
        "programme": "its phases; absent: it stands at its start",
    },
    "StandWritten": {
        "at": "[x, y] in the site frame",
        "heading": "counter-clockwise from x (east)",
    },
    "TurnsWritten": {
        "about": "the hinge, [x, y] in the site frame",
        "by": "how far it can turn, + to the left",
        "from": "where it points from the hinge at first; default 0 deg, east",
    },
    "BodyWritten": {
        "length": "length of a rectangle",
        "width": "width of a rectangle",
        "front overhang": "from the reference point to the front; default half the length",
        "corners": "a convex polygon [[x, y], ...] in the body frame, instead of length and width",
    },
    "LimitsWritten": {
        "speed": "top speed",
        "accelerate": "acceleration, or a table {speed: acceleration}",
        "brake": "service braking, a positive number",
        "jerk": "change of acceleration; absent: it may jump",
        "lateral": "sideways acceleration on curves",
        "combined": "ellipse: braking or accelerating and cornering share what it can do; default none",
        "stroke": "longest travel, e.g. a belt's length",
        "failsafe": "the stop on loss of contact",
    },
    "LaunchWritten": {"latency": "from the command to move to the motion"},
    "ErrorsWritten": {
        "speed held": "offset of the speeds that it holds, one a run",
        "speed wander": "how far they wander meanwhile",
        "start mark": "where it really stands",
        "path": "how far beside its path it drives",
        "position": "what its own measurement of its position is off by",
        "achieved acceleration": "share of a planned acceleration, like 98 % +/- 2 %",
        "achieved braking": "share of a planned braking",
        "launch": "how late its launch comes, like 20 ms +/- 10 ms",
    },
    "TolerancesWritten": {
        "speed": "off the speed that is held, like 0.5 km/h, or 0..1 km/h",
        "beside": "beside its path, like 0.05 m",
        "limits": "by how much of them its limits may be passed",
        "from": "the event from which on speed and path count, in every hold until its last encounter",
    },
    "SpeedWanderWritten": {
        "size": "standard deviation round the speed that is held",
        "over": "time over which it is forgotten (correlation time)",
    },
    "PathWanderWritten": {
        "size": "standard deviation beside the path",
        "over": "way over which it is forgotten (correlation length)",
    },
    "StartMarkWritten": {"along": "along its path", "beside": "beside it, + to the left"},
    "PathErrorWritten": {
        "offset": "beside its path, + to the left, one a run",
        "wander": "how far it wanders along the way",
    },
    "UsualWritten": {
        "accelerate": "of ramps that speed up",
        "brake": "of ramps that slow down, and of stops",
    },
    "FailsafeWritten": {"brake": "braking, a positive number", "reaction": "time before it begins"},
    "StartWritten": {
        "station": "a length, a range `10..50 m`, or free (default)",
        "speed": "speed of a rolling start; default 0 km/h",
        "at": "go: it is launched then",
    },
    "PhaseWritten": {
        "wait": "stand until a trigger acts, until a time after go, or for a time",
        "ramp": "change the speed",
        "hold": "keep the speed",
        "stop": "ramp to rest",
        "follow": "drive behind another mover at a gap, or in step with its progress",
        "drive": "the quickest (or gentlest) drive along the path to a place",
        "return": "the way back to its start after the run, as the last entry; not part of the timed run",
        "name": "for `start of MOVER.NAME`",
        "repeat": "how often the phases below are driven one after the other; their names are counted",
        "phases": "the phases that are repeated",
    },
    "WaitWritten": {
        "for": "a trigger's name; in the first phase also a time after go",
        "until": "a time of the clock, like `12 s after go`",
        "lasting": "stands exactly this long",
    },
    "RampWritten": {
        "to": "speed at its end: a value, a range or free; or a lateral acceleration, `0.4 g lateral`",
        "on": "the named piece on which a lateral acceleration is wanted; default the tightest place",
        "accelerate": "tighter than the limit, a range to choose from, or free",
        "brake": "tighter than the limit, a range to choose from, or free",
        "jerk": "tighter than the limit",
        "build up": "time over which the acceleration grows to its full value",
        "within": "takes at most this length",
        "over": "takes exactly this length",
        "lasting": "takes exactly this time",
    },
    "HoldWritten": {
        "settle": "least steady time before the event that ends it",
        "settled by": "an event at which it must already have settled",
        "for": "exactly this time or length",
        "until": "the event that ends it, or the lateral acceleration of the curve, `4 m/s2 lateral`",
    },
    "FollowWritten": {
        "mover": "the mover that is followed",
        "distance": "the gap, bumper to bumper",
        "time gap": "the gap over the speed",
        "tolerance": "how far the gap may be off; default 0.10 m or 0.05 s",
        "during": "the hold of that mover in which it is followed, where there are several",
        "to": "in step: the speed that it ramps to and holds; default the one that it has",
        "accelerate": "in step: of the ramp",
        "brake": "in step: of the ramp",
        "within": "in step: the ramp takes at most this length",
        "frozen": "in step: from then on it drives on at the pace that it has, `0.5 s before contact`",
        "correction": "in step: the most its speed is corrected by, of the planned one; default 10 %",
        "link": "in step: how late it learns where that mover is; default 0 s",
        "sampling": "in step: how often it does; default 100 Hz",
        "settle": "least steady time before the event that ends it",
        "settled by": "an event at which it must already have settled",
        "for": "exactly this time or length",
        "until": "the event that ends it; at a gap by default the end of that mover's hold",
    },
    "DriveWritten": {
        "until": "where it ends: a station, or an end of a named path piece",
        "to": "its speed there; default: as fast as it comes",
        "lasting": "the gentlest drive that takes no longer than this; default: the quickest",
    },
    "StopWritten": {
        "brake": "rate of braking; default the usual one, else the limit",
        "at": "where it comes to rest: a station, or an end of a named path piece",
    },
    "ReturnWritten": {
        "to": "start: its start mark (default)",
        "at": "speed on the way",
        "path": "the path that is driven back; default its own",
        "distance": "the length of the way, instead of `path`",
    },
    "TriggerWritten": {
        "watch": "the mover that is watched",
        "when": "the condition: exactly one of these",
        "to": "the encounter that distance or time to collision count down to",
        "latency": "from detection to the effect; with `+/-` its standard deviation",
        "sampling": "rate of detection; default 100 Hz",
        "during": "the hold of the watched mover (for a station or a gap any phase) in which it must fire",
    },
    "WhenWritten": {
        "station": "the watched mover reaches this station",
        "distance": "left along its path to the encounter",
        "time to collision": "that distance over its speed",
        "gap": "bumper to bumper, along its path, to the mover `to`",
        "to": "the mover that `gap` is measured to",
        "speed": "it reaches this speed",
        "time": "since go",
    },
    "ContactWritten": {
        "kind": "contact: bodies touch",
        "of": "the mover that is hit",
        "with": "the other mover",
        "overlap": "share of the width of `of`: 0 % right edge, 100 % left edge",
        "offset": "from the middle of its front, + to the left",
        "side": "share of its length on the flank: 0 % rear, 100 % front",
        "point": "which point of `with` is meant",
        "tolerance": "what the impact point is judged by; default 0.05 m",
    },
    "GapWritten": {
        "kind": "gap: bumper to bumper",
        "of": "the mover behind",
        "with": "the mover ahead, or coming head-on",
        "distance": "bumper to bumper",
        "time gap": "distance over the speed of `of`",
        "time to collision": "distance over the closing speed",
        "at": "the event at which it holds",
        "during": "MOVER.PHASE from whose start to whose end it holds, instead of `at`",
        "tolerance": "default 0.10 m or 0.05 s",
    },
    "PassWritten": {
        "kind": "pass: a miss by a margin",
        "of": "one mover",
        "with": "the other mover",
        "distance": "room left before the zone when `first` leaves it",
        "time": "from `first` leaving the zone to the other entering it",
        "first": "which of the two passes first",
        "between": "bodies, or reference points at the crossing of the paths",
        "tolerance": "default 0.10 m or 0.05 s",
    },
    "InstantWritten": {"before": "an event", "by": "how long before it"},
    "SightWritten": {
        "from": "the mover that looks; default subject",
        "to": "the mover that is looked at",
        "share": "how much of it must be seen; default 50 %",
        "sensor": "[x, y] of the eye in the body frame; default the middle of the front",
        "first seen at": "the time left to their contact then, like `2.0 s to collision +/- 0.1 s`",
        "moving": "a standing mover that may be moved along its own heading to get that",
        "within": "how far it may be moved either way; default 20 m",
    },
}

# Models of which exactly one of these keys is there.
EXACTLY_ONE: dict[str, tuple[str, ...]] = {
    "PieceWritten": (*PIECE_KINDS, "repeat"),
    "PhaseWritten": (*PHASE_KINDS, "follow", "drive", "return", "repeat"),
    "WhenWritten": tuple(CONDITIONS),
    "PathWritten": PATH_KINDS,
    "WaitWritten": ("for", "until", "lasting"),
}

# Models of which these two keys come together or not at all.
TOGETHER: dict[str, tuple[str, str]] = {
    "WhenWritten": ("gap", "to"),
    "PieceWritten": ("repeat", "pieces"),
    "PhaseWritten": ("repeat", "phases"),
}


def json_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of scenario files, every scalar as text with its unit."""
    schema = w.FileWritten.model_json_schema(by_alias=True)
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "choreo scenario"
    for name, model in (*schema["$defs"].items(), ("FileWritten", schema)):
        _describe(model, WORDS[name])
        if name in EXACTLY_ONE:
            model["oneOf"] = [{"required": [key]} for key in EXACTLY_ONE[name]]
        if name in TOGETHER:
            one, other = TOGETHER[name]
            model["dependentRequired"] = {one: [other], other: [one]}
    schema["properties"]["choreo"] |= {"enum": ["1", 1]}
    prefer = schema["properties"]["prefer"]
    prefer["anyOf"] = [
        {"enum": prefer.pop("enum")},
        {"type": "string", "pattern": "^(highest|lowest) .+$"},
    ]
    del prefer["type"]
    del schema["properties"]["choreo"]["const"], schema["properties"]["choreo"]["type"]
    return schema


def _describe(model: dict[str, Any], words: dict[str, str]) -> None:
    """Put our words to every key; drop generated titles and `null`, which files have no way to write."""
    model.pop("title", None)
    for key, entry in model.get("properties", {}).items():
        entry.pop("title", None)
        options = [one for one in entry.get("anyOf", ()) if one != {"type": "null"}]
        if len(options) == 1:
            del entry["anyOf"]
            entry.update(options[0])
        elif options:
            entry["anyOf"] = options
        if entry.get("default", 0) is None or not isinstance(entry.get("default", ""), str):
            entry.pop("default", None)
        if "patternProperties" in entry:
            entry["additionalProperties"] = False
        entry["description"] = words[key]
