"""Several on one site: a timetable that keeps vehicles a safe headway apart, and places to one user at a time.

Read in this order: written and reading (the file), driving (what a vehicle drives between waiting places), blocking
(which differences of starts two such legs can't have), jobs (everybody and their places), model (what is left of it:
segments, differences, orders), placing, search, pattern and mending (good timetables), timetable (the best by mixed-
integer programming), bounds and flow (what none beats, of a place and of all places together), solving, planning,
replay (all of it together, from the laps' plans alone), told and diagram.
"""
