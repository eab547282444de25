"""Codes of shared tracks."""

from choreo.words.catalogue.entry import Entry

SHARE = {
    "share.other-track": Entry(
        "A vehicle on another track",
        "All vehicles of a shared track drive laps of one main path.",
        "vehicle `{vehicle}`: the main path of {file} is not the one that the first vehicle drives",
        "Let all circuits name the same main path, of a site file best.",
    ),
    "share.no-staged-run": Entry(
        "A staged test that can't be run",
        "A test takes its turn on a shared site with a plan that a simulation agrees with, and with its zone.",
        "staged test `{vehicle}`: {file} can't be run, {why}",
        "Plan it by itself with `choreo plan`, and follow what is told there.",
    ),
}
