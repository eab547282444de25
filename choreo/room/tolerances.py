"""Tolerances of space, each with its reason."""

# The reported clearance is less than the truth by at most this (m).
CLEARANCE_M = 0.0005
# Starts and stops that a plan chose keep just what is asked for: what is missed by no more (m) is their rounding.
CHOSEN_M = 0.002
# Bodies nearer than this (m) count as touching: below it, tape and paint decide.
TOUCH_M = 0.001
# First look at every pair in steps of this (s); finer where nothing is proven yet.
LOOK_S = 0.25
# A pair that is to touch is looked at until this long (s) before it does.
BEFORE_TOUCH_S = 0.005
# Instants at which breaking off is tried (s) ...
ABORT_STEP_S = 0.05
# ... and how finely the last good one is then found (s).
ABORT_FINE_S = 0.001
# Sweeps are laid from one pose to the next where the heading turns by less than this (rad),
SWEEP_TURN_RAD = 0.01
# and the mover goes less than this (m).
SWEEP_STEP_M = 1.0
# Corners of swept areas are rounded in this many pieces a quarter circle.
ROUNDING = 8
# Swept outlines are simplified by at most this (m), outwards.
OUTLINE_M = 0.01
# Stops are looked at from instants this far apart (s), besides every change of acceleration.
STOP_STEP_S = 0.01
# Stations nearer than this (m) are one.
STATION_M = 1e-6
# In long runs the steps are longer: no more instants than this are tried.
MOST_ABORTS = 1200
# Lengths that are the same to a micrometre are: in a steady gap, or from a steady speed, rounding would otherwise say
# when one is least or longest. The first instant of equals is told.
SAME_DIGITS = 6
