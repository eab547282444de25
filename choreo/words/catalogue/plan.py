"""Codes of plan documents and other files that commands read and write."""

from choreo.words.catalogue.entry import Entry

PLAN = {
    "plan.unreadable": Entry(
        "A plan file can't be read",
        "The file is missing, a folder, not readable or not text.",
        "the plan can't be read: {why}",
        "Name a plan file that `choreo plan -o FILE` wrote.",
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
        "Choose a folder that exists and that you may write to.",
    ),
    "plan.scenario-changed": Entry(
        "The scenario has changed since the plan was made",
        "The plan's fingerprint is of another scenario.",
        "the plan answers another state of this scenario (its fingerprint is {planned}, the file's is {now})",
        "Plan anew: `choreo plan {file}`.",
    ),
    "plan.not-feasible": Entry(
        "The plan has no motion to check",
        "Only a feasible plan has marks and times.",
        "the plan's verdict is {verdict}: there is nothing to stage",
        "Use a plan whose verdict is feasible.",
    ),
}
