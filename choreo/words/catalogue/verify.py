"""Codes of the verification: where a plan and its independent simulation disagree."""

from choreo.words.catalogue.entry import Entry
from choreo.words.catalogue.verify_programme import PLAN_FAULT, PROGRAMME

_WHERE = (
    "at {time_s:.3f} s, station {station_m:.3f} m (over it from {from_s:.3f} to {until_s:.3f} s)"
)

_COMMANDS = {
    "verify.missing": Entry(
        "The plan leaves something out",
        "Every mover, trigger, encounter and instant of the scenario has an entry in the plan.",
        "the plan says nothing about the {what} {name}",
        PLAN_FAULT,
    ),
    "verify.not-finite": Entry(
        "A number in the plan is none",
        "Infinite or undefined numbers can't be simulated; nothing was.",
        "{what} holds a number that is infinite or undefined",
        PLAN_FAULT,
    ),
    "verify.negative-duration": Entry(
        "A piece of motion lasts less than no time",
        "Durations are zero or more; nothing was simulated.",
        "a piece of the motion of {mover} has a negative duration",
        PLAN_FAULT,
    ),
    "verify.too-long": Entry(
        "A motion lasts beyond all bounds",
        "It isn't simulated.",
        "the motion of {mover} lasts {lasting_s:.0f} s, at most {most_s:.0f} s are simulated",
        PLAN_FAULT,
    ),
    "verify.encounter-differs": Entry(
        "An encounter is between others than asked",
        "The plan and the scenario must name the same two movers in the same roles.",
        "{encounter} is between {planned} in the plan, between {wanted} in the scenario",
        PLAN_FAULT,
    ),
    "verify.hole": Entry(
        "The pieces of a motion don't join in time",
        "Each piece starts when the one before ends, the first at the launch.",
        "{mover}: the piece in phase {phase} should start at {time_s:.6f} s but is off "
        "by {missing_s:+.6f} s",
        PLAN_FAULT,
    ),
    "verify.drift": Entry(
        "Recorded stations or speeds don't follow from the accelerations",
        "The integrated motion differs from what the plan records beside its commands.",
        "{mover}: the piece in phase {phase} at {time_s:.3f} s is recorded {station_m:+.6f} m and "
        "{speed_mps:+.6f} m/s off the motion its accelerations make",
        PLAN_FAULT,
    ),
    "verify.start-station": Entry(
        "A start mark is outside the allowed stations",
        "The scenario gives a station or a range for the start.",
        "{mover} starts at station {station_m:.3f} m, allowed is {least_m:g} to {most_m:g} m",
        PLAN_FAULT,
    ),
    "verify.start-speed": Entry(
        "A mover starts at another speed than asked",
        "A rolling start has the speed the scenario gives, any other none.",
        "{mover} starts at {speed_mps:.4f} m/s, asked is {wanted_mps:.4f} m/s",
        PLAN_FAULT,
    ),
    "verify.start-mark": Entry(
        "A start mark is beside its path",
        "The mark's coordinates are those of its station on the path.",
        "the start mark of {mover} is {off_m:.4f} m away from its station on the path",
        "Check that paths and plan belong together; the path may have been changed since.",
    ),
    "verify.start-heading": Entry(
        "A start mark points elsewhere than its path",
        "The mark's heading is the path's at its station.",
        "the start mark of {mover} is turned by {off_deg:+.4f} deg from its path",
        "Check that paths and plan belong together; the path may have been changed since.",
    ),
}

_TRIGGERS = {
    "verify.trigger-never": Entry(
        "A trigger never acts",
        "The watched mover never reaches the setting.",
        "the trigger {trigger} never acts: {watch} doesn't reach its setting",
        "Choose a setting that the watched mover reaches.",
    ),
    "verify.trigger-time": Entry(
        "A trigger acts at another time than planned",
        "It is detected on the simulated motion of the watched mover.",
        "the trigger {trigger} {what} at {found_s:.6f} s, planned is {planned_s:.6f} s "
        "({late_s:+.6f} s)",
        PLAN_FAULT,
    ),
    "verify.trigger-station": Entry(
        "A trigger's station isn't where its setting is reached",
        "The plan says where the watched mover is then.",
        "the setting of trigger {trigger} is reached at station {found_m:.4f} m, planned is "
        "{planned_m:.4f} m",
        PLAN_FAULT,
    ),
    "verify.trigger-setting": Entry(
        "A trigger's setting is outside the allowed range",
        "The scenario gives a value or a range.",
        "the trigger {trigger} is set to {setting:g}, allowed is {least:g} to {most:g} (SI units)",
        PLAN_FAULT,
    ),
    "verify.trigger-differs": Entry(
        "A trigger is planned otherwise than asked",
        "Watched mover, condition, latency, sampling and what it acts on come from the scenario.",
        "the trigger {trigger}: {what} is {planned} in the plan, {wanted} in the scenario",
        PLAN_FAULT,
    ),
    "verify.trigger-unsettled": Entry(
        "A trigger's setting is reached by a mover that isn't settled",
        "Station, distance and time to collision must be reached at a steady speed, held "
        "for the settle time.",
        "the setting of trigger {trigger} is reached at {time_s:.3f} s, when {watch} has "
        "been steady for "
        "{steady_s:.3f} of {wanted_s:.3f} s",
        "Give the watched mover an earlier start or the trigger a later setting.",
    ),
}

_ENCOUNTERS = {
    "verify.encounter-missed": Entry(
        "An encounter never happens",
        "The simulated bodies never meet that way.",
        "{encounter}: {of} and {with_} never meet so",
        PLAN_FAULT,
    ),
    "verify.encounter-off": Entry(
        "An encounter misses its wanted value",
        "A nominal plan may use a tenth of the tolerance.",
        "{encounter} comes out at {value:.4f} {unit}, wanted is {least:g} to {most:g}: "
        "off by {error:+.4f} "
        "of {allowed:.4f} {unit} allowed",
        PLAN_FAULT,
    ),
    "verify.contact-face": Entry(
        "Another face is touched than asked",
        "Overlap and offset mean the front, `side` a flank.",
        "{encounter} touches the {touched} of the subject, wanted is the {wanted}",
        "Check overlap, paths and bodies: another part of the body may arrive first.",
    ),
    "verify.gap-drifts": Entry(
        "A gap that should hold leaves its tolerance",
        "It is measured all the time from its start to its end.",
        "{encounter} is {least:.4f} to {most:.4f} {unit} while it should hold, wanted is {low:g} to {high:g}",
        PLAN_FAULT,
    ),
    "verify.gap-ends": Entry(
        "A gap that holds ends at another time than planned",
        "It ends with the phase that it is written `during`.",
        "{encounter} holds until {found_s:.4f} s, planned is {planned_s:.4f} s",
        PLAN_FAULT,
    ),
    "verify.encounter-time": Entry(
        "An encounter happens at another time than planned",
        "Its time is found from the simulated bodies.",
        "{encounter} happens at {found_s:.4f} s, planned is {planned_s:.4f} s",
        PLAN_FAULT,
    ),
    "verify.encounter-station": Entry(
        "An encounter happens at another station than planned",
        "Stations of both movers at the encounter.",
        "{encounter}: {mover} is then at station {found_m:.4f} m, planned is {planned_m:.4f} m",
        PLAN_FAULT,
    ),
    "verify.unintended-contact": Entry(
        "Two bodies touch that must not",
        "Only the contacts a scenario asks for may happen.",
        "{a} and {b} touch at {time_s:.3f} s at ({x_m:.2f}, {y_m:.2f}) m (unasked)",
        "Move paths apart, or change speeds or starts so that they pass each other.",
    ),
    "verify.early-contact": Entry(
        "Two bodies that are to touch do so before their time",
        "A contact that a scenario asks for must not happen before it is planned.",
        "{a} and {b} touch at {time_s:.3f} s at ({x_m:.2f}, {y_m:.2f}) m (early)",
        "Move paths apart, or change speeds or starts so that they pass each other.",
    ),
    "verify.after-contact": Entry(
        "An encounter happens after its two have touched",
        "Once two have touched, what happens isn't planned.",
        "{encounter} comes, or ends, at {time_s:.3f} s: {of} and {with_} have touched at {touch_s:.3f} s (`{contact}`)",
        "Let it happen at an event before `{contact}`, or leave one of the two out.",
    ),
    "verify.spread": Entry(
        "Detection delay alone can leave the tolerance",
        "Depending on when within a sampling period the setting is reached, the value varies.",
        "{encounter} comes at {least} to {most}, the sooner or later its trigger is detected: wanted is {wanted} "
        "within {tolerance}, so some runs leave it",
        "Sample faster, or use a wider tolerance.",
    ),
    "verify.spread-missed": Entry(
        "Detection delay alone can make an encounter fail",
        "With no delay, or with a full sampling period, it doesn't happen.",
        "{encounter} doesn't happen for every detection delay within a sampling period",
        "Sample faster, or give the encounter more room.",
    ),
}

_LIMITS = {
    "verify.speed": Entry(
        "A mover is faster than it can be",
        "The limit holds at every instant.",
        "{mover} goes at {value:.4f} m/s, its limit is {limit:.4f} m/s " + _WHERE,
        PLAN_FAULT,
    ),
    "verify.acceleration": Entry(
        "A mover accelerates more than it can",
        "The table over speed holds at every instant, between its entries too.",
        "{mover} accelerates at {value:.4f} m/s2, its limit there is {limit:.4f} m/s2 " + _WHERE,
        PLAN_FAULT,
    ),
    "verify.braking": Entry(
        "A mover brakes more than it can",
        "Service braking; the failsafe is another matter.",
        "{mover} brakes at {value:.4f} m/s2, its limit is {limit:.4f} m/s2 " + _WHERE,
        PLAN_FAULT,
    ),
    "verify.jerk": Entry(
        "A mover's acceleration changes faster than it can",
        "The limit holds at every instant.",
        "{mover} changes its acceleration at {value:.4f} m/s3, its limit is {limit:.4f} m/s3 "
        + _WHERE,
        PLAN_FAULT,
    ),
    "verify.jerk-jump": Entry(
        "A mover's acceleration jumps though its jerk is limited",
        "A jump is an infinite jerk; only a ramp with a given build up may end with one.",
        "the acceleration of {mover} jumps from {from_mps2:.4f} to {to_mps2:.4f} m/s2 at "
        "{time_s:.3f} s, "
        "station {station_m:.3f} m",
        PLAN_FAULT,
    ),
    "verify.lateral": Entry(
        "A mover is too fast for a curve",
        "Speed squared times curvature stays within the lateral limit all along the path.",
        "{mover} needs {value:.4f} m/s2 sideways, its limit is {limit:.4f} m/s2 " + _WHERE,
        "Give the curve a larger radius or the phase a lower speed.",
    ),
    "verify.combined": Entry(
        "A mover brakes or accelerates too hard in a curve",
        "With `combined: ellipse` the shares of both limits, squared, add up to no more than 1.",
        "{mover} uses {value:.4f} of what it can do along and across its path together, {limit:.0f} is all "
        + _WHERE,
        "Change its speed before the curve or more gently, or drive the curve slower.",
    ),
    "verify.stroke": Entry(
        "A mover travels farther than it can",
        "A belt or a sled has a longest travel.",
        "{mover} travels {travel_m:.3f} m, its stroke is {stroke_m:.3f} m",
        PLAN_FAULT,
    ),
    "verify.path-end": Entry(
        "A mover leaves its path",
        "From start to rest it stays between its path's ends.",
        "{mover} is between stations {least_m:.3f} and {most_m:.3f} m, its path is "
        "{length_m:.3f} m long",
        "Make the path longer.",
    ),
}

_TOLD = {
    "verify.event-told": Entry(
        "An event is recorded wrongly",
        "Time, station, speed and place of each event follow from the motion.",
        "{mover}: the event {event} at {time_s:.3f} s doesn't agree with the motion",
        PLAN_FAULT,
    ),
    "verify.instant-told": Entry(
        "A named instant is recorded at a wrong time",
        "It is a given time before an event.",
        "the instant {instant} is at {found_s:.6f} s, planned is {planned_s:.6f} s",
        PLAN_FAULT,
    ),
    "verify.instant-state": Entry(
        "A mover's state at a named instant is recorded wrongly",
        "Stations and speeds follow from the motion.",
        "at {instant}, {mover} is at station {found_m:.4f} m, planned is {planned_m:.4f} m",
        PLAN_FAULT,
    ),
    "verify.runway-told": Entry(
        "A runway is recorded wrongly",
        "Its parts add up to the travel from start to rest.",
        "the runway of {mover} is {found_m:.4f} m, planned is {planned_m:.4f} m",
        PLAN_FAULT,
    ),
    "verify.peak-told": Entry(
        "A peak is recorded too low",
        "Crews choose equipment by the largest values.",
        "the largest {what} of {mover} is {found:.4f}, planned is {planned:.4f} (SI units)",
        PLAN_FAULT,
    ),
}

VERIFY: dict[str, Entry] = {
    **_COMMANDS,
    **PROGRAMME,
    **_TRIGGERS,
    **_ENCOUNTERS,
    **_LIMITS,
    **_TOLD,
}
