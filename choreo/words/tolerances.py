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

# A path follower takes a change of curvature of this size (1/m) at once without being thrown off visibly:
# at 50 km/h it is 0.4 m/s2 sideways.
CURVATURE_JUMP_PER_M = 1 / 500

# No road that cars are tested on is tighter than this (m); a survey that is has errors in its points.
ROUGH_RADIUS_M = 5.0
# A place this many times tighter than the road around it (mean over the window, m) is a kink of the survey.
ROUGH_RATIO = 3.0
ROUGH_WINDOW_M = 20.0

# Bodies that lie in each other by no more than this in m where they start stand beside each other: a rounded mark.
OVERLAP_M = 1e-3
