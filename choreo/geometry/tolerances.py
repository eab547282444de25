"""The geometry's tolerances and steps, each with its reason."""

# A piece whose author states where it starts may be off by this (m): survey marks are no finer.
PIECES_APART_M = 0.01

# The end of a closed path may be off its beginning by this (m), and point elsewhere by this (0.1 deg): both together
# move a car's far end by less than two centimetres. Common practice, no source.
LOOP_APART_M = 0.01
LOOP_TURNED_RAD = 0.1 * 3.141592653589793 / 180.0

# Roots are iterated until they move less than this (m): rounding of coordinates of some kilometres.
ROOT_M = 1e-11

# ... and as a share of a whole length.
ROOT_RATIO = 1e-13

# A solved shape (shift) must meet its wanted offset and length to this share of its size.
SHAPE_RATIO = 1e-12

# Step of a numeric derivative as a share of the value: balances rounding and curvature.
PROBE_RATIO = 1e-6

# A length or an angle below this is rounding of the numbers in a file, not a piece (m, rad).
NOTHING = 1e-9

# Two points of a survey nearer than this (m) have no direction between them.
SURVEY_STEP_M = 1e-3

# A parallel curve needs this share of the base's radius to be left, or it has a cusp.
RADIUS_LEFT_RATIO = 1e-6

# Share added to sampled curvature: between samples the true value may be a little larger.
CURVATURE_MARGIN_RATIO = 1e-3

# Lateral misfit (m) up to which a wanted overlap holds exactly all along a stretch: far below anything
# measurable, far above the rounding of two paths laid side by side.
EXACT_M = 1e-9

# Lateral misfit (m) up to which it holds nearly, on a curve that bodies share: a tenth of the default
# tolerance of a contact, which is what a nominal plan may use.
NEARLY_M = 5e-3

# A found contact must meet both its conditions to this (m).
MEETS_M = 1e-10

# A body touches a face when the room between them is at most this (m): rounding at some kilometres.
TOUCH_M = 1e-9

# Close enough (m) to a touch for the last iteration to finish it.
CLOSE_M = 1e-3

# A track is a straight line when none of its stations is off it by more than this (m): a micrometre.
LINEAR_M = 1e-6

# Step (m) of a first one-sided slope; the iteration corrects it.
PROBE_M = 1e-3

# Step (m) of the numeric derivatives; errors of the two-sided form are its square.
DERIVATIVE_M = 1e-4

# Two answers nearer than this (m) are one.
SAME_M = 1e-6

# Edges of conflict zones are bracketed to this (m).
ZONE_M = 1e-10

# Two paths cross at an angle of at least this (rad); below, they run along each other.
CROSSING_RAD = 1e-6
