"""Codes of rule sets."""

from choreo.words.catalogue.entry import Entry

RULES = {
    "rules.no-set": Entry(
        "No such rule set",
        "Bundled sets are named by their name, others by their file.",
        "there is no bundled rule set `{name}`",
        "{suggestion}",
    ),
    "rules.no-family": Entry(
        "No such family",
        "A rule set has its rules by families of tests.",
        "the rule set {set} has no family `{name}`",
        "{suggestion}",
    ),
    "rules.no-matrix": Entry(
        "No published matrix",
        "The cells of this family are not known one by one.",
        "no cells of {family} are known to the rule set {set}",
        "Write the campaign yourself: `choreo guide format`, Campaigns.",
    ),
    "rules.same-id": Entry(
        "Two rules of one id",
        "Families and findings name rules by their ids.",
        "`{rule}` is the id of another rule already",
        "Give each rule an id of its own.",
    ),
    "rules.no-mover": Entry(
        "Nobody has a role of the family",
        "A family's rules are of the kinds of movers that take part in it.",
        "the family `{family}` has a {role}, and the scenario has none",
        "Name the family that it belongs to; `choreo rules {set}` lists them. Roles come from the movers' `kind`.",
    ),
    "rules.filled": Entry(
        "The rule set says what the scenario leaves out",
        "Tolerances, steady times and the start of test of the set hold where nothing is written.",
        "from the rule set {set}: {what}",
        "",
    ),
    "rules.no-start-of-test": Entry(
        "The start of test is not found",
        "Speeds and paths count from it on.",
        "the scenario has no moment that is the start of test of {family}: {t0} ({set})",
        "Name it yourself: `instants: {{T0: {{before: EVENT, by: 1 s}}}}`.",
    ),
    "rules.outdated": Entry(
        "A later version of the rule set's document is known",
        "Figures may have changed.",
        "the rule set {set} is not the newest: {note}",
        "",
    ),
    "rules.second-hand": Entry(
        "Figures that nobody has seen in the document",
        "They are second-hand, from memory, or in brackets in the document itself.",
        "of the rules for {family} in {set} these are not sure: {which}",
        "",
    ),
    "rules.off-grid": Entry(
        "Not a value of the published matrix",
        "Values between may be meant.",
        "{what} is {value}, which the published matrix doesn't have; the nearest is {near} ({clause})",
        "",
    ),
    "rules.wider": Entry(
        "Wider than the rule set allows",
        "A run may count here and not by the rules.",
        "{what} is {own}; the rules allow {bound} ({clause})",
        "Write it as the rules have it, or leave it out: then it comes from them.",
    ),
    "rules.settle": Entry(
        "Steady for a shorter time than the rule set asks",
        "The speed must be held before the start of test, and from then on.",
        "{name} is steady for {own}; the rules ask for {bound} ({clause})",
        "Write `settle: {bound}` in its hold, or leave it out: then it comes from the rules.",
    ),
    "rules.not-steady": Entry(
        "Not steady at the start of test",
        "From T0 on its speed counts.",
        "{name} still changes its speed until {until}; T0 is at {t0} ({clause})",
        "Give its hold a longer `settle`, or start it earlier.",
    ),
    "rules.late-start-of-test": Entry(
        "The test starts when it is over",
        "From T0 on everything is to be as planned; there is no such time before the encounter.",
        "T0 is at {t0}, {encounter} at {met}: nothing is left of the test between them ({clause})",
        "Start {name} earlier: with more way to the encounter, or a lower speed.",
    ),
    "rules.condition": Entry(
        "Not the track that the rule set asks for",
        "A run there may not count.",
        "{what} is {value}; the rules ask for {bound} ({clause})",
        "",
    ),
    "rules.surroundings": Entry(
        "Something stands in the room that must be free",
        "The rules want free surroundings along the way of the vehicle under test.",
        "{what} is {value} beside the way of {name}; the rules want {bound} free ({clause})",
        "",
    ),
    "rules.one-sided": Entry(
        "The band of a speed begins at the planned one",
        "Half of all runs are slower than planned, by however little.",
        "the speed of {name} may be {bounds} off what is planned: the middle is {aim} ({clause})",
        "What is driven beside the plan on purpose, `errors` says: `speed held: {aim} +/- 0.1 km/h`.",
    ),
}
