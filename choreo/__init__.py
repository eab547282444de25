"""choreo: a planner and timing solver for multi-vehicle proving-ground tests.

As a library: `from choreo.scenario import load`, `from choreo.verdict import answer`.
"""
