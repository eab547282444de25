"""The independent simulation that decides whether a plan is believed.

Read in this order: script (what each mover does in its own time), integration (commands to motion), crossing and
execution (triggers on simulated motion), separation, clearing, impact, projection and zone (bodies in the plane),
moments (encounters and events of one run); commands, programmes, limits, triggers, encounters and claims (one question
each); simulation (all).
"""

from choreo.verification.record import Measured, Verification
from choreo.verification.simulation import verify

__all__ = ["Measured", "Verification", "verify"]
