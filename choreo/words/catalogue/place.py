"""Codes of placing a scenario on a site."""

from choreo.words.catalogue.entry import Entry

PLACE = {
    "place.bad-direction": Entry(
        "A range of directions can't be read",
        "Directions to leave out are a middle and how far to both sides of it.",
        "`{option}`: `{text}` is not a range of directions: {why}",
        "Write like `{option} '235 deg +/- 30 deg'`.",
    ),
    "place.no-anchor": Entry(
        "Bearings need an anchored site",
        "Without an anchor the site's axes have no compass bearing.",
        "`{option}` is a compass bearing, but the site `{site}` has no anchor",
        "Give the site an `anchor`, or use --not-towards with headings counter-clockwise from its x axis.",
    ),
    "place.no-direction-left": Entry(
        "All directions of travel are left out",
        "Together the ranges cover the whole circle.",
        "the directions left out cover the whole circle: nothing is left to search",
        "Leave out fewer directions.",
    ),
    "place.no-ground": Entry(
        "The site draws no drivable area",
        "A place can only be looked for where the site file says what is drivable.",
        "the site `{site}` draws no drivable area",
        "Give it `areas` or an `outline`, or name another site with --site.",
    ),
    "place.bad-margin": Entry(
        "A margin can't be read",
        "Margins are lengths from zero up.",
        "`--margin`: {wrong}",
        "{instead}",
    ),
}
