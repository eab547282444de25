"""Codes of plan documents and other files that commands read and write."""

from choreo.words.catalogue.entry import Entry

PLAN = {
    "plan.line": Entry(
        "The line that is driven through a course",
        "Found by linear problems, kept inside the lanes with the whole body, checked with all that it sweeps.",
        "the line through {path} ({course}): {what}",
        "",
    ),
    "plan.line-missed": Entry(
        "No line through a course was found",
        "The line that is used keeps less than its margin, or touches cones.",
        "no line through {path} ({course}) was found that keeps {margin} m of cones and edges",
        "Take a smaller `margin`, a narrower body, or lay the course out for its width.",
    ),
    "plan.line-open": Entry(
        "Another line may do",
        "Impossible on the line that was found; that no line does is not proven.",
        "{mover} can't be driven so on the line that was found through its course; whether on another one isn't known",
        "Drive it slower{instead}, or give it a higher lateral limit.",
    ),
    "plan.crossed-again": Entry(
        "Paths of a pass cross more than once",
        "A pass is planned through one zone; that no other crossing, in another lap say, would do is not proven.",
        "the paths of `{encounter}` cross more than once; whether it can be met at another crossing isn't known",
        "Let the paths begin and end so that they cross only where it is meant.",
    ),
    "plan.line-helps": Entry(
        "A driven line helps",
        "The path leads through the middles of lanes; on a line that uses their width a plan was found and simulated.",
        "{path} leads through the middles of its lanes ({course}); driven on a line of its own it can be done",
        "Write `line: least lateral acceleration` in it.",
    ),
    "plan.line-wider": Entry(
        "A course's middles are too tight for its speed",
        "Between its cones a driver finds a wider line than through the middles of the lanes. Something else is short "
        "too, so that the line alone doesn't help.",
        "{path} leads through the middles of its lanes ({course}), which is tighter than a driver's line",
        "Write `line: least lateral acceleration` in it, and mend what else is short.",
    ),
    "plan.broken": Entry(
        "A plan file is damaged",
        "The document doesn't have the shape that choreo writes.",
        "this is not a whole plan document: {why}",
        "Make it again with `choreo plan SCENARIO -o FILE`.",
    ),
    "plan.other-format": Entry(
        "Not a plan of this format",
        "The document's `format` says what it is.",
        "this is not a plan document of the format `{wanted}`",
        "Make it again with `choreo plan SCENARIO -o FILE`.",
    ),
    "plan.not-written": Entry(
        "A file can't be written",
        "The old file, if there was one, is untouched.",
        "the file can't be written: {why}",
        "{instead}",
    ),
    "plan.would-overwrite-input": Entry(
        "The output is one of the inputs",
        "A scenario, or a file that it names, would be lost.",
        "this is `{input}`, which the plan is made from: it is not overwritten",
        "Name another file to write to.",
    ),
    "plan.would-overwrite-hand-written": Entry(
        "The output is a file that somebody wrote",
        "A scenario, a campaign, a fleet or its like would be lost under what programs write.",
        "this is a {kind}, written by hand: it is not overwritten",
        "Name another file to write to.",
    ),
    "plan.other-names": Entry(
        "A plan names what the scenario doesn't have",
        "The fingerprint tells which scenario a plan is of; its movers, triggers, encounters and instants "
        "must be that scenario's.",
        "the plan has {what} that the scenario doesn't have: {names}",
        "Make it again with `choreo plan SCENARIO -o FILE`.",
    ),
    "plan.other-paths": Entry(
        "A plan was made on other paths than the scenario has",
        "A page draws bodies on the scenario's paths; the plan's own events must lie on them.",
        "{names} drove in this plan on another path than {scenario} has",
        "Name the scenario that the plan was made of.",
    ),
    "plan.no-scenario": Entry(
        "Two saved plans alone can't be drawn",
        "Bodies and paths stand in a scenario; a plan document has neither.",
        "this and {other} are saved plans: bodies and paths to draw them with are in a scenario",
        "Name the scenario of one of the two instead; `choreo diff` compares saved plans in words.",
    ),
    "plan.scenario-changed": Entry(
        "The scenario has changed since the plan was made",
        "The plan's fingerprint is of another scenario.",
        "the plan answers {what} (its fingerprint is {planned}, the file's is {now})",
        "Plan anew: `choreo plan {file}`.",
    ),
    "plan.other-room": Entry(
        "The plan says otherwise of its room than a new survey",
        "Clearances, stops, the point of no return, the keep-out zone and the fit on the site are looked at anew.",
        "what the plan says of its room is not what a new survey finds: {what}",
        "Plan anew, and use nothing of this plan.",
    ),
    "plan.not-clear": Entry(
        "The plan must not be run where it is planned",
        "A check of its room fails.",
        "do not run this plan: {text}",
        "See `choreo plan SCENARIO`.",
    ),
    "plan.not-feasible": Entry(
        "The plan has no motion to check",
        "Only a feasible plan has marks and times.",
        "the plan's verdict is {verdict}: there is nothing to stage",
        "Use a plan whose verdict is feasible.",
    ),
    "plan.pass-slows": Entry(
        "The later mover of a pass has changed speed before it enters",
        "A hold until a pass ends when the first mover leaves the zone; the other one enters later.",
        "encounter `{encounter}`: {mover} goes {before} when the other leaves the zone, but {then} when it enters",
        "Let {mover} hold on: `until:` the end of a named path piece beyond the crossing, or `for:` a length.",
    ),
    "plan.starts-in-bend": Entry(
        "A start mark lies in a bend",
        "A start that is left open lies as near as it can: in a bend too, whose beginning is not driven then.",
        "{mover} starts from rest in a bend, at station {station}: what lies before isn't driven",
        "Write `settled by: start of {mover}.{piece}` in its hold{named}, or give a start before it.",
    ),
    "plan.starts-in-lane": Entry(
        "Who passes first starts in the other's lane",
        "A start that is left open may lie in the zone itself: who stands there from the start hardly passes.",
        "{mover} stands in the lane of {other} at its start, before it passes first in `{encounter}`",
        "Give {mover} a start before that lane, and write `settled by: {encounter}` in the hold of {other}.",
    ),
    "plan.not-at-speed": Entry(
        "A mover is not at the speed of its hold at an encounter",
        "A hold without `for` and `until` ends when the next phase has to begin, before an encounter if the shortest "
        "runway is found so.",
        "{mover} is at {then} at `{encounter}`, not at the {ordered} of its phase `{phase}`: {what}",
        "Write `until: {event}` in that hold if it is to be at that speed then; else say what ends the hold.",
    ),
    "plan.gentler": Entry(
        "A ramp is gentler than its limit, or not at its usual rate",
        "A ramp whose rate nobody states is driven at its limit, or at its mover's usual rate. Where that leaves no "
        "plan, such ramps are changed, as little as possible.",
        "{phase} of {mover} is driven with at most {now} instead of {limit}: at {what} {none}",
        "Write `{key}: free` to allow it, state the rate that is driven, or change what leaves no room: `choreo why` "
        "of the scenario with that rate stated tells what.",
    ),
    "plan.pauses": Entry(
        "A ramp pauses",
        "A ramp whose rate nobody states is driven at its limit, or evenly gentler. Where neither leaves a plan, it "
        "may stay at a steady speed for a while before it goes on: hardly any drive follows that by itself.",
        "{phase} of {mover} stays at {speed} for {time} before it goes on: driven evenly there is no plan",
        "Write it as two ramps with a hold between them to have it driven so, or change what leaves no room: "
        "`choreo why` of the scenario with that ramp's rate stated tells what.",
    ),
    "plan.not-gentlest": Entry(
        "The gentlest ramps were not found",
        "Where the solver finds no plan with the gentlest ramps, one with ramps at their limits is taken.",
        "the gentlest ramps were not found: the plan holds, with ramps at their limits as far as can be",
        "Give rates, or ask for another `prefer`.",
    ),
    "plan.uneven": Entry(
        "A ramp isn't driven evenly",
        "A ramp whose rate nobody states is driven at its limit, or evenly gentler. Where neither leaves a plan, its "
        "acceleration may ease on the way.",
        "{phase} of {mover} takes {now} instead of {limit}: driven evenly there is no plan",
        "State the rate that is driven, or change what leaves no room: `choreo why` of the scenario with that rate "
        "stated tells what.",
    ),
    "plan.tried-speeds": Entry(
        "Open speeds were found by trying some",
        "Where the solver finds no plan for speeds that a file leaves open, some values of each are tried, and the "
        "best plan among them is taken.",
        "the open speeds were found by trying some: between those tried a better plan may lie",
        "Narrow the ranges to have more values of them tried, or give the speeds.",
    ),
    "plan.not-least": Entry(
        "A better plan may exist",
        "Gaps that hold along ramps are searched for a while only; the plan holds, but need not be the best one.",
        "the search for the least was ended: the plan holds, but another may take less room or time",
        "Say more of what the plan may not choose: start marks, `settle`, where holds end.",
    ),
    "plan.time-up": Entry(
        "The search for a plan ended before all was looked at",
        "Whether there is a plan is not known then. What was found out by then is told.",
        "whether there is a plan was not decided within {seconds} s of computing",
        "Say more of what the plan may not choose: marks, rates, where holds end; or look longer with `--seconds`.",
    ),
    "plan.too-many-ramps": Entry(
        "More ramps in curves than the search can write down",
        "Where braking and cornering share their grip each ramp is looked at in each curve: pairs can be too many.",
        "its ramps have to be looked at in more curves than the search can write down: it wasn't begun",
        "Say how the ramps are driven (rates, marks, where holds end), or drive a part of the path.",
    ),
    "plan.search-ended": Entry(
        "The search for repairs ended before all was looked at",
        "Where there is no plan, changes that would help are looked for, no longer than `--seconds` allows.",
        "the search for what would help ended after {seconds} s; not looked at: {left}",
        "`choreo why --seconds ...` looks longer.",
    ),
    "plan.not-applicable": Entry(
        "A repair can't be written into this file",
        "The value stands elsewhere, or isn't written at all.",
        "the repair can't be written here: {why}",
        "Change it by hand at that place, or choose another repair.",
    ),
    "plan.no-such-repair": Entry(
        "There is no repair of that number",
        "`choreo why` numbers them from 1.",
        "there is no repair {number}; there are {count}",
        "Look at `choreo why` without --apply first.",
    ),
    "plan.repair-failed": Entry(
        "The repaired file is not feasible",
        "Nothing is written then.",
        "with the repair written into it the scenario is {verdict}",
        "Choose another repair.",
    ),
    "plan.collision": Entry(
        "Two bodies collide in every plan that was found",
        "All that is asked for can be met, but the simulation sees two bodies touch that are not to.",
        "{a} and {b} collide at {time} at ({x}, {y}) m",
        "Change a speed, a path or what brings them there at that time, so that they miss each other"
        "{instead}.",
    ),
}
