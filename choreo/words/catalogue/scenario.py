"""Codes of input files and of the scenario layer."""

from choreo.words.catalogue.entry import Entry

INPUT = {
    "input.missing-file": Entry("No such file", "The path names nothing.", "there is no file `{file}`", "Check the path."),
    "input.folder": Entry(
        "A folder, not a file", "A scenario is one file.", "`{file}` is a folder", "Name a scenario file in it."
    ),
    "input.unreadable": Entry(
        "The file can't be read", "The system refuses.", "`{file}` can't be read: {why}", "Check its permissions."
    ),
    "input.too-large": Entry(
        "The file is too large", "Scenario files are small.", "`{file}` is larger than {most}",
        "Keep long point lists in a CSV file and name it with `surveyed:`.",
    ),
    "input.not-text": Entry(
        "Not a text file", "It holds bytes that are not UTF-8 text.", "this is not a text file in UTF-8",
        "Save it as plain text, encoding UTF-8.",
    ),
    "input.empty": Entry(
        "The file is empty", "There is nothing to plan.", "the file is empty",
        "Begin with `choreo: 1`, a `title:` and `movers:`.",
    ),
    "input.not-yaml": Entry(
        "The text is not YAML", "It can't be taken apart at this place.", "the text can't be read as YAML: {why}",
        "Look at this line and the one above: indent, colons, brackets and quotes.",
    ),
    "input.several-documents": Entry(
        "More than one document", "One file holds one scenario.", "a second document begins here (`---`)",
        "Put it into a file of its own.",
    ),
    "input.not-mapping": Entry(
        "Not a block of keys", "The top of the file must be `key: value` lines.",
        "the file is not a block of `key: value` lines", "Begin with `choreo: 1`.",
    ),
    "input.too-deep": Entry(
        "Nested too deeply", "No scenario needs it.", "the nesting is deeper than {most} levels", "Flatten it."
    ),
    "input.too-many-entries": Entry(
        "Too many entries", "An alias (`*name`) counts each time; aliases of aliases grow beyond any use.",
        "the file holds more than {most} entries", "Use `values:` and `$name` instead of aliases (`*name`).",
    ),
    "input.tag": Entry(
        "A YAML tag", "Every value is plain text; tags (`!!int`, `!!python/...`) would ask for something else.",
        "a tag (`!...`) can't be used", "Remove the tag; quote the value if it begins with `!`.",
    ),
    "input.control-character": Entry(
        "A control character", "It could steer a terminal or hide text where the value is shown.",
        "the control character {character} can't be used", "Remove it.",
    ),
    "input.more-faults": Entry(
        "More faults than are listed", "Beyond a hundred, the first ones are the ones to mend.",
        "there are more faults from here on", "Mend the first ones and look again.",
    ),
    "input.duplicate-key": Entry(
        "The same key twice", "Only one of them could count.", "`{key}` stands here again; it is first at {first}",
        "Give one of them another name, or remove it.",
    ),
    "input.key-not-a-word": Entry(
        "A key is not a word", "Keys are plain words; merge keys are not used.", "this key is not a plain word",
        "Write `name: value`; to share values use `values:` or `like:`.",
    ),
}

SCENARIO = {
    "scenario.unknown-key": Entry(
        "An unknown key", "It would be ignored silently.", "`{key}` is not known in {where}", "{suggestion}"
    ),
    "scenario.missing-key": Entry(
        "A key is missing", "It has no default.", "`{key}` is missing in {where}", "Add `{key}: ...`."
    ),
    "scenario.bad-value": Entry(
        "A value that can't be used", "Wrong or missing unit, not a number, absurd.", "{where}: {what}", "{instead}"
    ),
    "scenario.other-file": Entry(
        "Another kind of file", "Fleet, site and plan files are named by a scenario or made from it.",
        "this is {kind}, not a scenario", "Name a scenario file; it begins with `choreo: 1`.",
    ),
    "scenario.rate-over-limit": Entry(
        "A phase's own rate over the mover's limit", "A phase may only be gentler than the limits.",
        "{mover}: `{key}: {wanted}` is over its limit of {limit}", "Lower it, or raise `limits: {key}`.",
    ),
    "scenario.rolls-without-programme": Entry(
        "A rolling start without programme", "What rolls must be told how it goes on.",
        "{mover} starts rolling, but has no programme", "Give it a `programme`, e.g. `- stop:`.",
    ),
    "scenario.instant-loop": Entry(
        "An instant before itself", "It needs an event that is known without it.",
        "instant `{instant}` stands before itself: {loop}", "Name an encounter, a trigger or a phase.",
    ),
    "scenario.bad-choice": Entry(
        "Not one of the choices", "Only these words are known here.", "{where}: `{written}` is not a choice here",
        "Write one of {known}.{suggestion}",
    ),
    "scenario.bad-name": Entry(
        "A name that can't be used", "Names are used in event expressions.", "`{name}` can't be a name",
        "Use letters, digits, `_` and `-`, beginning with a letter.",
    ),
    "scenario.bad-shape": Entry(
        "The wrong shape", "A list, a block or a single value was wanted.", "{where} should be {wanted}",
        "See the scenario format in the README.",
    ),
    "scenario.unknown-name": Entry(
        "A name that is not defined", "It refers to nothing.", "there is no {what} named `{name}`", "{suggestion}"
    ),
    "scenario.one-of": Entry(
        "Exactly one of several keys", "They exclude each other, and one is needed.",
        "{where} has {count} of {choices}", "Keep exactly one of them.",
    ),
    "scenario.not-together": Entry(
        "Keys that exclude each other", "Both can't be meant.", "{where}: {first} and {second} exclude each other",
        "Keep one of them.",
    ),
    "scenario.same-name": Entry(
        "One name for two things", "Encounters, triggers and instants share their names.",
        "`{name}` is both {first} and {second}", "Rename one of them.",
    ),
    "scenario.no-path": Entry(
        "A mover without path", "It must be somewhere.", "{mover} has neither `path` nor `stand`",
        "Write `path: NAME`, or `stand: {{at: [x m, y m], heading: 0 deg}}` for a thing that only stands.",
    ),
    "scenario.itself": Entry(
        "An encounter of a mover with itself", "Two different movers meet.",
        "encounter `{encounter}` is of {mover} with itself", "Name two movers.",
    ),
    "scenario.first-not-there": Entry(
        "The first of a pass is not one of the two", "One of the pair leaves the zone first.",
        "`first: {first}` is neither {of} nor {with_}", "Write `first: {of}` or `first: {with_}`.",
    ),
    "scenario.too-fast": Entry(
        "A speed over the mover's top speed", "The limit is the mover's own.",
        "{mover} is to go {wanted}, its top speed is {limit}", "Lower the speed, or raise `limits: speed`.",
    ),
    "scenario.missing-limit": Entry(
        "A limit that is needed", "A mover that moves needs a top speed, an acceleration and a braking.",
        "{mover} moves, but its `limits` have no `{limit}`", "Add `{limit}: {example}`.",
    ),
    "scenario.missing-body": Entry(
        "A mover without body", "Bodies are what touches.", "{mover} has no body",
        "Write `body: {{length: 4.30 m, width: 1.80 m}}`, or `like:` an entry of the fleet.",
    ),
    "scenario.bad-body": Entry(
        "A body that can't be", "A body is a convex polygon round its reference point.", "{mover}: {why}", "{instead}"
    ),
    "scenario.wait-while-moving": Entry(
        "A wait while rolling", "Waiting is standing.", "{mover} waits here, but it isn't standing",
        "Use `hold: {{until: ...}}` to go on at speed, or `ramp: {{to: 0 km/h}}` before.",
    ),
    "scenario.after-stop": Entry(
        "Phases after the stop", "A stop ends the programme, except that a mover may wait and go again.",
        "{mover} is at rest here", "Put a `wait` before it, or move the stop to the end.",
    ),
    "scenario.hold-at-rest": Entry(
        "A hold at rest", "Holding is going at a steady speed.", "{mover} holds here, but it is standing",
        "Use `wait` for standing, or a `ramp` before.",
    ),
    "scenario.stands-but-moves": Entry(
        "A programme for a thing that only stands", "`stand` has no path to move on.",
        "{mover} stands by `stand`, but has a programme", "Give it a `path`, or remove the programme.",
    ),
    "scenario.start-not-fixed": Entry(
        "A standing mover whose start is open", "A mover without programme may be placed by the solver only "
        "where an encounter says so.",
        "{mover} stands at an open station and no encounter places it", "Write `start: {{station: 50 m}}`.",
    ),
    "scenario.not-in-survey": Entry(
        "A surveyed file that can't be used", "Two columns, x_m and y_m, one point a line.", "{why}", "{instead}"
    ),
    "scenario.beside-loop": Entry(
        "Paths beside each other in a circle", "Each needs the other first.",
        "path `{path}` lies beside itself: {loop}",
        "Let one of them be made of pieces.",
    ),
    "scenario.unused-trigger": Entry(
        "A trigger that nobody waits for", "It changes nothing.", "nobody waits for trigger `{trigger}`",
        "Add `wait: {{for: {trigger}}}` or `hold: {{until: {trigger}}}` to a mover.",
    ),
    "scenario.unused-value": Entry(
        "A value that is never used", "Perhaps a misspelling.", "the value `{name}` is never used",
        "Use it as `${name}`, or remove it.",
    ),
    "scenario.implied-stop": Entry(
        "A stop was added", "Every mover must come to rest.",
        "{mover} has no `stop`: it is given one at its service braking", "",
    ),
    "scenario.not-yet": Entry(
        "Not yet possible", "Planned, but not in this version.", "`{what}` is not possible yet", "{instead}"
    ),
    "scenario.measured": Entry(
        "A line of the measured file that can't be used", "name,quantity,value with units.", "{why}", "{instead}"
    ),
}
