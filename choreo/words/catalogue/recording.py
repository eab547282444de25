"""Codes of recordings: their description, their files, what is in them."""

from choreo.words.catalogue.entry import Entry

RECORDING = {
    "recording.unfit": Entry(
        "A recording description that can't be used",
        "What it says of files, channels, units or clocks doesn't fit together, or not the files.",
        "{why}",
        "{instead}",
    ),
    "recording.unreadable": Entry(
        "A recorded file that can't be read",
        "It is no such file, broken, cut off, or its numbers or times make no run.",
        "the recording can't be read: {why}",
        "{instead}",
    ),
    "recording.no-anchor": Entry(
        "Places on earth without an anchor",
        "Longitude and latitude, grids and compass bearings need to know where the site frame lies.",
        "{what} on earth are meant, but the scenario's site has no `anchor`",
        "Add an `anchor` to the site file, or give places in the site frame (`x`, `y`).",
    ),
}
