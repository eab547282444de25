"""The verification's tolerances and clocks, each with its reason."""

# A motion is looked at this often where its speed changes. Quadrature is exact for a linear acceleration whatever the
# step, so a command is integrated in one; the clock makes crossings and shares of limits easy to bracket.
CLOCK_S = 1e-2

# First clock of the search for touching bodies; intervals that can't be proven clear are split
# further.
TOUCH_CLOCK_S = 2e-1

# Before that, bodies are proven apart between instants so far from each other, farther than CLEAR_M (m): a
# millimetre is far above the rounding of paths made of many pieces.
CLEAR_CLOCK_S = 1.0
CLEAR_M = 1e-3

# A gap is looked at this often: one that is reached and left again in between changes by millimetres meanwhile.
GAP_CLOCK_S = 5e-2

# A gap that holds is looked at this often, and more often where it leaves the straight line between two looks by more
# than HELD_BEND (m or s).
HELD_CLOCK_S = 0.5
HELD_BEND = 1e-4

# ... and may leave its tolerance by this share of it: where it holds by plan it may use all of it.
HELD_SHARE = 1e-3

# Dense checks along a path (lateral acceleration) are made at least this often.
LATERAL_CLOCK_S = 5e-3

# Where its path changes its direction a mover stands. A stop may be written a millimetre beside that place: setting
# off again it passes it at less than this (m/s).
TURNING_MPS = 0.15

# A plan's recorded state may differ from the integrated one by this (m, m/s, m/s2): the rounding
# of a few dozen pieces is a thousand times smaller.
DRIFT = 1e-6

# Kinematic moments (launches, phase ends, triggers) must agree to this, in seconds.
TIME_S = 1e-6

# Moments found by geometry (contacts, zones) carry the geometry's own accuracy; a millisecond is
# far below any tolerance of a test and far above both methods' errors.
GEOMETRIC_TIME_S = 1e-3

# Crossings and touches are bracketed to this, in seconds.
ROOT_S = 1e-11

# A condition within this of its setting (m or m/s) has reached it: a ramp that ends exactly at the
# setting must count as having reached it, rounding or not.
REACHED = 1e-9

# Bodies whose separation is at most this (m) touch: rounding of coordinates of some kilometres.
TOUCH_M = 1e-9

# A graze shallower than half of this (m) between two instants may be overlooked.
GRAZE_M = 1e-4

# A point belongs to the touched face when it is this near to it (m); times are known to ROOT_S, so
# bodies at 100 m/s are placed a thousand times finer.
FACE_M = 1e-5

# Before-and-after sides of a jump in curvature are read this far (m) from it.
SIDE_M = 1e-7

# A hold ends at the lateral acceleration that is asked for, to this (m/s2): DRIFT makes less on a clothoid.
LATERAL_MPS2 = 1e-4

# A zone's entry and exit are bracketed to this (m): a hundredth of a millimetre passes in under a
# microsecond at any test's speed.
ZONE_M = 1e-6

# A ratio to a limit may exceed one by this: the solver meets its rows to 1e-7 of their scale.
LIMIT_RATIO = 1e-6

# ... and a limit near zero by this much in its own unit (m/s2, m/s3, m).
LIMIT_FLOOR = 1e-6

# Acceleration that jumps by less than this (m/s2) between pieces has not jumped.
JUMP_MPS2 = 1e-6

# Headings of the start mark in degrees: a tenth of a millimetre over ten kilometres of straight
# path.
HEADING_DEG = 1e-6

# Share of an encounter's tolerance that a nominal plan may use.
TOLERANCE_SHARE = 0.1

# Peaks that a plan records may differ from the found ones by this share: they are sampled, not
# solved.
PEAK_RATIO = 1e-3

# The closing speed is taken from the bodies' separation over this long (s) before they touch.
CLOSING_S = 1e-4

# Largest ratio written into a summary (an encounter that never happens, a jump where jerk is
# limited): JSON has no infinity.
WORST_RATIO = 1e9

# A launch said to be "at go" may be this late: an interior solver stops a few microseconds off.
GO_S = 1e-4
