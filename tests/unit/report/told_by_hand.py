"""What many runs are told as, made by hand: a walker into the front of a car. All figures invented."""

import math

from choreo.plans.errors_record import (
    Cause,
    Chance,
    Distribution,
    EncounterTold,
    ErrorsPlan,
    FirstOrderTold,
    Share,
    SourceTold,
    Tries,
)

EDGES = tuple(-0.2 + 0.01 * index for index in range(41))
COUNTS = tuple(round(800 * math.exp(-0.5 * ((e + 0.005) / 0.0535) ** 2)) for e in EDGES[:-1])
SOURCES = (
    SourceTold("speed held", "subject", "m/s", "normal", 0.0, 0.3 / 3.6, 0.0, None, True),
    SourceTold("start along", "subject", "m", "normal", 0.0, 0.05, 0.0, None, True),
    SourceTold("start along", "walker", "m", "normal", 0.0, 0.02, 0.0, None, False),
    SourceTold("achieved acceleration", "walker", None, "normal", -0.02, 0.02, 0.0, None, True),
    SourceTold("speed wander", "walker", "m/s", "normal", 0.0, 0.02, 0.0, 3.0, True),
    SourceTold("latency", "step_out", "s", "normal", 0.0, 0.01, 0.0013, None, True),
    SourceTold("sampling", "step_out", "s", "uniform", 0.0, 0.0029, 0.0, None, True),
)
SHARES = (
    Share(2, 1.0, 0.02, 0.55, True),
    Share(3, -0.75, 0.015, 0.25, True),
    Share(5, -1.39, 0.0139, 0.15, True),
    Share(4, 0.0, 0.006, 0.045, False),
    Share(6, -1.39, 0.004, 0.005, True),
    Share(0, 0.0001, 0.00001, 0.0, True),
    Share(1, 0.0, 0.0, 0.0, True),
)
TOLD = ErrorsPlan(
    runs=sum(COUNTS),
    seed=1,
    quasi=False,
    sources=SOURCES,
    first_order={"contact": FirstOrderTold("contact", "m", 0.0, -0.015, 0.0527, SHARES, False)},
    encounters={
        "contact": EncounterTold(
            encounter="contact",
            kind="contact",
            measure="overlap",
            of="subject",
            with_="walker",
            wanted=(0.0, 0.0),
            tolerance=0.05,
            met=sum(COUNTS),
            within=9000,
            values=Distribution(
                "m", -0.003, 0.0535, -0.196, 0.188, {"2.5 %": -0.1, "97.5 %": 0.1}, EDGES, COUNTS
            ),
            mean_time_s=10.408,
            time_spread_s=0.031,
            mean_closing_mps=11.11,
            closing_spread_mps=0.08,
            disagree=True,
        )
    },
    chance=Chance(9000, sum(COUNTS), 0.838, 0.852),
    causes=(Cause("contact outside its tolerance", sum(COUNTS) - 9000, {2: 1200, 3: 400}),),
    tries=(Tries(1, 1.18, 2), Tries(3, 3.55, 6)),
)
