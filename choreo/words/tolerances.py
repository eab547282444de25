"""Tolerances that an author may leave out or never sees, each with its reason.

The solver's and the verifier's own stand in their tolerances.py.
"""

from __future__ import annotations

# What an encounter is judged by when its author states no tolerance.
# Impact point: a twentieth of a metre is a few per cent of a car's width.
CONTACT_TOLERANCE_M = 0.05
# Gaps and passes are measured between moving bodies, hence twice the contact's.
GAP_TOLERANCE_M = 0.10
# At 50 km/h this is 0.7 m: what a person calls the same moment.
GAP_TOLERANCE_S = 0.05

# Two surveyed points nearer than a millimetre are one point written twice: surveys aren't that fine.
SAME_POINT_M = 1e-3
