"""Codes of what travels with the program: pages of the guide, ready files."""

from choreo.words.catalogue.entry import Entry

GUIDE = {
    "guide.no-such-page": Entry(
        "A page that the guide doesn't have",
        "`choreo guide` lists its pages.",
        "the guide has no page `{name}`",
        "{suggestion}",
    ),
    "guide.no-such-ready": Entry(
        "A ready file that there isn't",
        "`choreo new` lists all of them.",
        "there is no ready file `{name}`",
        "{suggestion}`choreo new` lists what there is.",
    ),
    "guide.several-ready": Entry(
        "A word that fits several ready files",
        "A part of a name will do, where it fits one file only.",
        "`{name}` fits several ready files",
        "Write one of {names}.",
    ),
    "guide.already-there": Entry(
        "A file that is there already",
        "A copy never overwrites anything.",
        "`{file}` is there already{why}",
        "{instead}",
    ),
}
