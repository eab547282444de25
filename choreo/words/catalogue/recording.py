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
    "recording.unknown-mover": Entry(
        "A recorded mover that the scenario doesn't have",
        "Movers of a recording description are those of the scenario, by the same names.",
        "`{mover}` was recorded, but the scenario has {known}",
        "Name the movers of the description as the scenario does; or name the scenario that was driven.",
    ),
    "recording.elsewhere": Entry(
        "A mover that was recorded somewhere else",
        "It was never on the path that it drives by plan: another mover, another place, another scenario.",
        "`{mover}` is {away} m beside its path most of the time",
        "Look whether its channels are another mover's, at units and frame of its position, at the scenario's name.",
    ),
    "recording.no-plan": Entry(
        "No plan to compare runs with",
        "Runs are judged against a plan, and the scenario has none.",
        "the scenario has no plan that could have been driven: {headline}",
        "`choreo why` says what doesn't fit; `--plan FILE` names the plan that was driven.",
    ),
    "recording.no-launch": Entry(
        "No moment that time could count from",
        "A run counts from go: a channel named `go`, the first launch, or the detection of a trigger.",
        "nothing in the recording says when go was: {why}",
        "Record from before the first launch until its speed is held, or give a channel: "
        "`events: {{go: {{channel: ..., rises: 0.5}}}}`.",
    ),
    "recording.no-anchor": Entry(
        "Places on earth without an anchor",
        "Longitude and latitude, grids and compass bearings need to know where the site frame lies.",
        "{what} on earth are meant, but the scenario's site has no `anchor`",
        "Add an `anchor` to the site file, or give places in the site frame (`x`, `y`).",
    ),
}
