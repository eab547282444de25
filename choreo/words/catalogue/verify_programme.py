"""Codes of the simulation about launches and phases."""

from choreo.words.catalogue.entry import Entry

PLAN_FAULT = (
    "This is a fault of the plan, not of the scenario: plan anew, and report it if it stays."
)

PROGRAMME = {
    "verify.launched-by": Entry(
        "A mover is launched by something else than the programme says",
        "A wait names a trigger or a time; a mover without one is launched at go or at a time.",
        "the plan launches {mover} by {planned}, the programme by {wanted}",
        PLAN_FAULT,
    ),
    "verify.launch": Entry(
        "A mover launches at another time than planned",
        "Launches by trigger follow the simulated trigger, others the programme; none is "
        "before go.",
        "{mover} is planned to launch at {planned_s:.6f} s but launches at {found_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.ended-by": Entry(
        "A trigger ends other holds than the programme says",
        "`hold: {{until: TRIGGER}}` and the plan must name the same.",
        "the plan lets holds of {mover} end so: {planned}; the programme so: {wanted}",
        PLAN_FAULT,
    ),
    "verify.phase-order": Entry(
        "The plan's phases aren't those of the programme",
        "Pieces belong to the programme's phases in their order.",
        "{mover}: the piece in phase {phase} at {time_s:.3f} s has no place in the programme",
        PLAN_FAULT,
    ),
    "verify.phase-never-ends": Entry(
        "A phase is never reached or never ends",
        "It waits for a trigger that doesn't act.",
        "{mover} never finishes its phase {phase}",
        "See the trigger that it waits for.",
    ),
    "verify.not-at-rest": Entry(
        "A mover isn't at rest at its end",
        "Every programme ends standing.",
        "{mover} still moves at {speed_mps:.4f} m/s when its programme ends at {time_s:.3f} s",
        PLAN_FAULT,
    ),
    "verify.reverses": Entry(
        "A mover goes backwards",
        "Movers follow their paths forwards.",
        "{mover} goes backwards at {speed_mps:.4f} m/s at {time_s:.3f} s",
        PLAN_FAULT,
    ),
    "verify.window": Entry(
        "A drive leaves the speeds of a piece",
        "A piece of a path may say how fast, or how slow, a drive may be on it.",
        "{mover} drives {speed_mps:.4f} m/s at station {station_m:.3f} m at {time_s:.3f} s, where the path allows "
        "{least_mps:.4f} to {most_mps:.4f} m/s",
        PLAN_FAULT,
    ),
    "verify.turns-at-speed": Entry(
        "A mover changes its direction while it moves",
        "Between forwards and backwards it must be at rest.",
        "{mover} still moves at {speed_mps:.4f} m/s at station {station_m:.3f} m, where its path changes its direction",
        PLAN_FAULT,
    ),
    "verify.ramp-speed": Entry(
        "A ramp ends at another speed than asked",
        "`to` is the speed at the ramp's end.",
        "{mover} ends {phase} at {speed_mps:.4f} m/s, asked is {least_mps:.4f} to "
        "{most_mps:.4f} m/s",
        PLAN_FAULT,
    ),
    "verify.ramp-length": Entry(
        "A ramp takes another length than asked",
        "`within` is the most, `over` the exact length.",
        "{mover}: {phase} takes {length_m:.4f} m, asked is {wanted_m:.4f} m",
        PLAN_FAULT,
    ),
    "verify.ramp-time": Entry(
        "A ramp takes another time than asked",
        "`lasting` is the exact time.",
        "{mover}: {phase} takes {lasting_s:.6f} s, asked is {wanted_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.ramp-turns": Entry(
        "A ramp both accelerates and brakes",
        "A ramp changes the speed in one direction; a stop only brakes.",
        "{mover}: {phase} goes from {least_mps2:.4f} to {most_mps2:.4f} m/s2",
        PLAN_FAULT,
    ),
    "verify.phase-cap": Entry(
        "A phase is harder than its own cap",
        "A ramp's or a stop's own accelerate, brake or jerk.",
        "{mover}: {what} in {phase} reaches {value:.4f}, its cap is {cap:.4f} (SI units)",
        PLAN_FAULT,
    ),
    "verify.build-up": Entry(
        "An acceleration isn't built up as asked",
        "`build up` is the time over which it grows in proportion from nothing to its full value.",
        "{mover}: {time_s:.3f} s into {phase} it is {value:.4f} m/s2, building up gives "
        "{allowed:.4f} m/s2",
        PLAN_FAULT,
    ),
    "verify.hold-speed": Entry(
        "A hold isn't steady",
        "The speed of a hold is constant.",
        "{mover}: the speed changes by {change_mps:+.4f} m/s in {phase} (up to "
        "{accel_mps2:.4f} m/s2)",
        PLAN_FAULT,
    ),
    "verify.hold-time": Entry(
        "A hold lasts another time than asked",
        "`for` is the exact time.",
        "{mover}: {phase} lasts {lasting_s:.6f} s, asked is {wanted_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.hold-length": Entry(
        "A hold lasts another length than asked",
        "`for` is the exact length.",
        "{mover}: {phase} takes {length_m:.4f} m, asked is {wanted_m:.4f} m",
        PLAN_FAULT,
    ),
    "verify.hold-until": Entry(
        "A hold doesn't end at its event",
        "`until` names the event that ends it.",
        "{mover}: {phase} ends at {end_s:.6f} s, its event ({event}) is at {event_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.event-never": Entry(
        "The event that ends a hold never happens",
        "It doesn't happen in the simulated run.",
        "{mover}: {phase} lasts until an event that never happens ({event})",
        "See the other findings for why it doesn't happen.",
    ),
    "verify.not-settled": Entry(
        "A hold is shorter than its settle time",
        "The mover must be steady that long before the event.",
        "{mover} is steady for {steady_s:.4f} s in {phase}, asked is {wanted_s:.4f} s",
        PLAN_FAULT,
    ),
    "verify.stop-speed": Entry(
        "A stop doesn't end at rest",
        "A stop ends standing.",
        "{mover} ends {phase} at {speed_mps:.4f} m/s",
        PLAN_FAULT,
    ),
    "verify.hold-lateral": Entry(
        "A hold ends at another lateral acceleration than asked",
        "Speed squared times curvature, where it ends.",
        "{mover}: {phase} ends at {found_mps2:.4f} m/s2, asked is {wanted_mps2:.4f} m/s2",
        PLAN_FAULT,
    ),
    "verify.stop-place": Entry(
        "A stop ends at another place than asked",
        "`at` is where the reference point comes to rest.",
        "{mover}: {phase} ends at {station_m:.4f} m, asked is {wanted_m:.4f} m",
        PLAN_FAULT,
    ),
    "verify.command": Entry(
        "A command to a late drive is told wrongly",
        "A drive must be told earlier than it moves, by its latency, and not before go.",
        "{mover}: the command for {phase} belongs at {found_s:.6f} s, planned is {planned_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.rate-least": Entry(
        "A ramp is gentler than the least rate asked",
        "A rate chosen from a range is none below it.",
        "{mover}: {phase} lasts {lasting_s:.6f} s; at the least rate it lasts {longest_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.wait-time": Entry(
        "A wait lasts another time than asked",
        "`lasting` is the exact time.",
        "{mover}: {phase} lasts {lasting_s:.6f} s, asked is {wanted_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.wait-moves": Entry(
        "A mover moves while it waits",
        "Waiting is standing.",
        "{mover} moves at {speed_mps:.4f} m/s in {phase}",
        PLAN_FAULT,
    ),
}
