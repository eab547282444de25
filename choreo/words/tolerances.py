"""Every tolerance shared by layers, each with its reason."""

from __future__ import annotations

# What an encounter is judged by when its author states no tolerance.
# Impact point: a twentieth of a metre is a few per cent of a car's width.
CONTACT_TOLERANCE_M = 0.05
# Gaps and passes are measured between moving bodies, hence twice the contact's.
GAP_TOLERANCE_M = 0.10
# The time in which 0.05 s at 50 km/h is 0.7 m: what a person calls the same moment.
GAP_TOLERANCE_S = 0.05
PASS_TOLERANCE_M = GAP_TOLERANCE_M
PASS_TOLERANCE_S = GAP_TOLERANCE_S

# A piece that states where it begins (`at:`) must begin there; surveyors mark to a centimetre.
JOIN_TOLERANCE_M = 0.01

# Two surveyed points nearer than a millimetre are the same point: no direction can be told from them.
SAME_POINT_M = 1e-3

# A corner that turns the wrong way by less than this share of its sides' product is rounding of a
# straight edge, not a dent.
STRAIGHT_CORNER_RATIO = 1e-9

# Speeds that differ by less than this are the same speed; decimal text in km/h rounds at 1e-15.
SAME_SPEED_MPS = 1e-9

# A misfit below a micrometre or a microsecond is rounding, not proof.
MISFIT_M = 1e-6
MISFIT_S = 1e-6
