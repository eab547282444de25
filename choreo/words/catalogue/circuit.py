"""Codes of circuits: the main path, excursions, kinds of lap, what a run of laps does."""

from choreo.words.catalogue.entry import Entry

CIRCUIT = {
    "circuit.not-closed": Entry(
        "A main path that is no loop",
        "Laps go round a closed path.",
        "the main path `{path}` is not closed",
        "{instead}",
    ),
    "circuit.order": Entry(
        "An excursion that doesn't lie in one lap",
        "It leaves the main path before it joins it again, both between the line and the line.",
        "excursion `{excursion}` leaves at {leaves} and joins at {joins}; a lap is {lap} long",
        "Write `leaves` below `joins`, both within the lap; let the main path begin elsewhere if it passes the line.",
    ),
    "circuit.apart": Entry(
        "An excursion that doesn't meet the main path",
        "Its beginning and its end lie on the main path, to 1 cm.",
        "excursion `{excursion}`, `{key}`: its path is {apart} away from station {station} of the main path, which "
        "is at [{x} m, {y} m]",
        "{instead}",
    ),
    "circuit.against-traffic": Entry(
        "An excursion against the traffic",
        "It leaves and joins in the direction of the main path.",
        "excursion `{excursion}`, `{key}`: at station {station} its path goes against the main path's direction",
        "Lay its path the other way round: from station {leaves} of the main path to station {joins}.",
    ),
    "circuit.not-tangential": Entry(
        "An excursion at an angle",
        "It leaves and joins in the direction of the main path, to 0.1 deg.",
        "excursion `{excursion}`, `{key}`: at station {station} its path is turned by {turned} from the main path",
        "Let its path begin and end in the direction of the main path there.",
    ),
    "circuit.curvature": Entry(
        "Curvature that jumps at a join",
        "A path follower needs time to turn the wheel.",
        "{what}: its curvature jumps from {before} to {after}",
        "Use a `clothoid` or a `bend` with clothoids there.",
    ),
    "circuit.too-tight": Entry(
        "A curve that no vehicle can follow",
        "The centre of a curve lies beside the vehicle, not between its wheels.",
        "path `{path}` turns with a radius of {radius} at station {station}",
        "Write a radius of more than {least}, half the vehicle's width; most vehicles need several metres.",
    ),
    "circuit.no-lap": Entry(
        "A kind of lap that can't be driven",
        "Every kind of lap passes the line at one speed, keeps to all windows and stops where it has to.",
        "lap `{lap}` can't be driven: {what}",
        "{instead}",
    ),
    "circuit.window-missed": Entry(
        "A window that a kind of lap can't keep",
        "Each kind of lap is driven at the quickest; the first one begins, and the last one ends, at rest.",
        "lap `{lap}` can't keep {window}: {what}",
        "{instead}",
    ),
    "circuit.seam": Entry(
        "A lap that doesn't go on where the one before it ends",
        "At the line speed, acceleration and place are the same.",
        "lap `{after}` doesn't begin as lap `{before}` ends: {what}",
        "This is a fault of the plan, not of the circuit: plan anew, and report it if it stays.",
    ),
    "circuit.room": Entry(
        "A lap that has no room",
        "Nobody may be inside to brake or steer: stops from any instant must stay on the drivable ground.",
        "{lap}: {text}",
        "Drive slower there (`speed:` of a piece), or let the path keep farther from the edge.",
    ),
    "circuit.too-hot": Entry(
        "A temperature over its most",
        "By the model of first order that the file gives.",
        "in lap {lap} the temperature passes {most}; its highest is {degc}",
        "Let an excursion cool it earlier, or for longer.",
    ),
    "circuit.before-passed": Entry(
        "Hotter than an excursion waits for",
        "It is taken when the lap to come, or the next one up to its end, would be hotter; one lap may be too long.",
        "in lap {lap} it is hotter than the {before} before which `{excursion}` is to be taken",
        "Let the excursion leave earlier on the lap, or wait for less; `most:` of the temperature makes it a failure.",
    ),
    "circuit.exposure": Entry(
        "One driver for more than the law allows",
        "Daily limits of whole-body vibration, Directive 2002/44/EC.",
        "one driver would get {what} in a day",
        "{drivers} drivers a day keep below, each for {hours} h at the most; or `driven by: robot`.",
    ),
    "circuit.never": Entry(
        "An excursion that is never taken",
        "It is taken when it is due, by laps, time, way or temperature.",
        "excursion `{excursion}` is never taken: {why}",
        "Let it fall due earlier, or leave it out.",
    ),
    "circuit.in-every-lap": Entry(
        "An excursion in every lap",
        "It is due again before a lap ends; few mean that, and write metres for minutes.",
        "excursion `{excursion}` comes every {every}, and a lap {lap}: it is taken in every lap from the second one on",
        "{instead}",
    ),
    "circuit.crowded": Entry(
        "Excursions that fall due at once",
        "They share a lap where their stretches of the main path don't overlap.",
        "in lap {laps} an excursion waits for the next lap, since another one is taken",
        "Let them fall due in different laps if that matters.",
    ),
}
