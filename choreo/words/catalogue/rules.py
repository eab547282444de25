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
    "rules.same-id": Entry(
        "Two rules of one id",
        "Families and findings name rules by their ids.",
        "`{rule}` is the id of another rule already",
        "Give each rule an id of its own.",
    ),
}
