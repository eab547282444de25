"""Several vehicles on one circuit: a timetable that keeps them a safe headway apart.

Read in this order: written and reading (the file), blocking (which differences of start times two vehicles can't have),
timetable (start times by mixed-integer programming; also classic job shops), planning, replay (all of it simulated
together, from the plans alone), told (what is said, and the place-time diagram).
"""
