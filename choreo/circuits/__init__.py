"""Laps of a circuit with excursions: every kind of lap planned once, and the sequence that they are driven in.

Read in this order: written and reading (the file), laying (laps as paths), lap (one kind of lap planned, verified and
surveyed as a scenario of its own), sequence (which lap comes when), heat and exposure (what laps do to a component and
to a driver), planning (all of it), told and shown (what is said of it, page and sheet).
"""
