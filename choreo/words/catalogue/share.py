"""Codes of shared tracks."""

from choreo.words.catalogue.entry import Entry

SHARE = {
    "share.other-track": Entry(
        "A vehicle on another track",
        "All vehicles of a shared track drive laps of one main path.",
        "vehicle `{vehicle}`: the main path of {file} is not the one that the first vehicle drives",
        "Let all circuits name the same main path, of a site file best.",
    ),
    "share.alike-places": Entry(
        "Two places with nearly one name",
        "Places are told apart by their names alone: who names one otherwise doesn't wait for it.",
        "`{place}` is named once only, and nearly as `{other}`: they are two places, used at the same time",
        "Write `{other}` if that one is meant.",
    ),
    "share.crowded": Entry(
        "More vehicles than the main path carries",
        "A headway apart, only so many fit on a lap.",
        "{count} vehicles drive laps, and the main path carries {carries} at a time: {apart} apart at "
        "station {station}, on a lap of {lap}",
        "Some start when others are done, or are on excursions while they drive: let fewer drive, or let them "
        "be nearer behind each other there.",
    ),
    "share.few-turns": Entry(
        "A place in which few can take turns",
        "Between two of its uses a vehicle drives a way on which it can't wait; uses by others must fit in there.",
        "`{place}` is used for {use} at least, and again by the same vehicle {way} later: only {once} of {count} "
        "can take turns in it at a time",
        "The others begin when these are done. A use shorter by {shorter}, or a way that takes {longer} more, lets "
        "{more} take turns.",
    ),
    "share.no-staged-run": Entry(
        "A staged test that can't be run",
        "A test takes its turn on a shared site with a plan that a simulation agrees with, and with its zone.",
        "staged test `{vehicle}`: {file} can't be run, {why}",
        "Plan it by itself with `choreo plan`, and follow what is told there.",
    ),
}
