"""Codes of the problem layer: what geometry and the event graph see in a scenario."""

from choreo.words.catalogue.entry import Entry

PROBLEM = {
    "problem.no-meeting": Entry(
        "The paths never bring the wanted contact about",
        "On these two paths no pair of stations has the bodies touch at the wanted impact point.",
        "encounter `{encounter}`: on these paths {of} and {with} never touch with the impact at "
        "{wanted} from the middle of {of}; {nearest}",
        "{move}, or ask for an impact that they allow.",
    ),
    "problem.meeting-out-of-reach": Entry(
        "The wanted contact lies where a mover can't be",
        "The paths allow it, or would if they went on straight, but not between the movers' starts and the "
        "ends of their paths.",
        "encounter `{encounter}`: {of} and {with} would meet at station {at_of} of the path of {of} and "
        "{at_with} of that of {with}, but {why}",
        "{instead}",
    ),
    "problem.no-crossing": Entry(
        "The paths don't cross",
        "A pass needs two paths whose bodies sweep over a common place and leave it again.",
        "encounter `{encounter}`: the paths of {of} and {with} have no common zone that both enter and leave",
        "Let the paths cross, or use an encounter of kind `gap` for movers in one lane.",
    ),
    "problem.turns-at-speed": Entry(
        "A mover doesn't stop where it changes its direction",
        "Between a piece that is driven forwards and one that is driven backwards a mover must come to rest.",
        "the path of {mover} changes between forwards and backwards at station {station}: {mover} doesn't stop there",
        "Write `- hold: {{}}`, `- stop: {{at: {station}}}` and `- wait: {{lasting: 2 s}}` in its programme, then the "
        "ramp that goes on.",
    ),
    "problem.turning-lane": Entry(
        "Two movers on a path that changes its direction",
        "Who is ahead of whom changes where one turns back: such a path is for one mover.",
        "{mover} and {other} share the path `{path}`, which changes between forwards and backwards",
        "Give {other} a path of its own, or let it `stand`.",
    ),
    "problem.turning-encounter": Entry(
        "A gap or a pass of a mover that changes its direction",
        "Gaps are planned after the last change of direction only, passes not at all: before it the same end of the "
        "body doesn't lead.",
        "{what}: a {kind} of {mover}, whose path changes between forwards and backwards, that isn't tied to what "
        "{mover} does after its last change",
        "Of a gap write `at` or `during` with a phase of {mover} after that, like `at: end of {mover}.stop 2`. Else "
        "make the last part a scenario of its own, with `drive: backwards` at the mover and its start there.",
    ),
    "problem.start-outside": Entry(
        "A start mark lies beyond its path",
        "A fixed start station must lie on the path.",
        "{mover} is to start at station {station}, but its path is {length} long",
        "Write a station from 0 m to {length}.",
    ),
    "problem.no-drive": Entry(
        "A drive that can't be",
        "A drive begins at a known place and speed, and has to keep to windows, limits and the speed at its end.",
        "the drive of {mover} can't be: {what}",
        "{instead}",
    ),
    "problem.window-missed": Entry(
        "A window that a drive can't keep",
        "The quickest drive within its limits is slower than the window's least speed.",
        "the drive of {mover} can't keep {window}: {what}",
        "{instead}",
    ),
    "problem.mark-outside": Entry(
        "A named piece that the path doesn't reach",
        "A path beside a stretch of another begins and ends with that stretch.",
        "the {edge} of piece `{piece}` lies at station {station} of the path of {mover}, which is {length} long",
        "Let `from` and `to` of that path take it in, or name another event.",
    ),
    "problem.trigger-outside": Entry(
        "A trigger's station that is never reached",
        "The station must lie on the watched mover's path, not behind its start.",
        "trigger `{trigger}` waits for {mover} at station {setting}, but {why}",
        "{instead}",
    ),
    "problem.bank": Entry(
        "A banked curve",
        "Lateral limits are said for level ground; grip grows with the load, and gravity pulls down the bank.",
        "path `{path}`: {place} is banked by {bank} at a radius of {radius}: {what}",
        "Choose the speeds of its programme by that.",
    ),
    "problem.curvature-jump": Entry(
        "A path whose curvature jumps",
        "A driven or a steered follower needs time to turn the wheel; where curvature jumps it leaves the path.",
        "path `{path}`: its curvature jumps from {before} to {after} at station {station}{others}: a "
        "path follower cannot follow it exactly",
        "{instead}",
    ),
    "problem.rough-survey": Entry(
        "A rough survey",
        "Errors of the points make the curve through them wind.",
        "path `{path}`: the survey is rough: its radius goes down to {radius} at station {station}",
        "Smooth the points, or thin them out.",
    ),
    "problem.never-settled": Entry(
        "A trigger watches a mover that never holds a speed",
        "Station, distance, time to collision and gap are only well defined while the mover is steady.",
        "trigger `{trigger}` watches {mover}, whose programme has no hold to be reached in",
        "Give {mover} a `hold`, or use `time:` or `speed:` as the condition.",
    ),
    "problem.trigger-loop": Entry(
        "Triggers wait for each other in a circle",
        "Every mover in the loop waits for another one of it, so none ever moves.",
        "nobody can begin: {loop}",
        "Let one of these movers launch without a trigger (leave out its `wait`).",
    ),
    "problem.loose-mover": Entry(
        "A mover is tied to nothing",
        "It has no encounter, watches and awaits no trigger: when it launches is arbitrary.",
        "{mover} is tied to no encounter and no trigger: its launch is arbitrary (taken at go)",
        "Give it an encounter or a `wait`, or leave it out.",
    ),
    "problem.too-many-ties": Entry(
        "More ties than there is to solve",
        "Each tie needs something that can still move; this one has nothing left. Only exactly fitting "
        "numbers can satisfy it.",
        "too many ties: nothing is left to solve for `{tie}`; the others are {others}",
        "Free a start station, a hold's duration or a trigger's setting.",
    ),
    "problem.swapped": Entry(
        "A gap is asked of the mover that is ahead",
        "A gap is from the front of `of` to `with` ahead of it: `of` is the mover behind. On one path nobody passes.",
        "encounter `{encounter}`: `of` and `with` are swapped: `of` is the mover behind, but {of} is ahead of {with}: "
        "{why}",
        "Write `of: {with}, with: {of}`, or correct what says that {of} is ahead.",
    ),
    "problem.after-contact": Entry(
        "An encounter after a contact of the same two",
        "Once two have touched, what happens isn't planned.",
        "encounter `{encounter}` of {movers} can't come before their contact `{contact}`",
        "Let it happen at an event before `{contact}`, or leave one of the two out. The gap of a `follow` lasts as "
        "long as that phase: leave out its `until`, so that it ends with the other one's hold, and write "
        "`- hold: {{until: {contact}}}` after it.",
    ),
    "problem.touched-before": Entry(
        "An encounter of one that has touched another before",
        "What a contact does to the movers isn't planned: they are taken to drive on.",
        "encounter `{encounter}` comes after the contact `{contact}`: what that does to {movers} isn't planned",
        "Let it happen before `{contact}`, or stage the two in runs of their own.",
    ),
    "problem.start-overlap": Entry(
        "Two bodies overlap where they start",
        "Both start marks are given, and the bodies lie in each other there.",
        "{a} and {b} overlap at their start marks",
        "Move one of the start marks: stations are of the reference point, the body reaches to its front and rear.",
    ),
    "problem.stand-overlap": Entry(
        "Two bodies overlap where they stand",
        "Neither of the two moves, and their bodies lie in each other. Blocks of a wall may.",
        "{a} and {b} overlap where they stand",
        "Move one of the two: `at` and `station` are of the reference point, the body reaches to its front and rear. A "
        "part of something that stands is `kind: obstacle`.",
    ),
}
