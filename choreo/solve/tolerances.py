"""The solver's tolerances and weights, each with its reason."""

# A piece of a jerk-limited ramp lasts at least this long, so that jerk = change / duration is defined.
# At 40 m/s it moves a mover by 0.4 mm, and only where a ramp has nothing to change.
LEAST_PIECE_S = 1e-5

# IPOPT's tolerance. The barrier leaves a bound unused by about this over its multiplier; with the
# weights below that is under 10 micrometres and 10 microseconds.
SOLVER_TOLERANCE = 1e-10

# A row (m, s, m/s or m/s2) may be missed by this after the solve: well under what the verifier allows.
ROW_TOLERANCE = 1e-7

# Ties are broken towards gentler, then quicker. The weights are small against a metre of runway per
# unit of use, so they choose among equals and move an optimum by less than 1e-6 of itself.
TIE_BREAK_GENTLE = 1e-3
TIE_BREAK_QUICK = 1e-6

# A limit that is only checked at points may be passed between them by this much (m/s2) after
# tightening; the verifier's own allowance is larger.
BETWEEN_POINTS_MPS2 = 1e-7

# The tangent of a curved relation has settled when the station it was laid at moves less than this (m).
TANGENT_SETTLED_M = 1e-9

# Room (m) that two movers of one lane keep at looks that lie clearly before their contact, tried in turn: it must
# outlast what they close between two looks, yet leave room for starts close together. At the contact itself the room is
# zero, hence the ramp over the last moments (s) and the idle addend (m).
APART_M = (1.0, 5.0, 1e-2)
APART_AFTER_S = 0.5
# ... and at this many even shares of the time until then.
APART_LOOKS = 40
IDLE_M = 1e-5

# A contact that can happen this near (m) to where a mover starts is in its lane from the start: two bodies and some.
LANE_BEGINS_M = 20.0

# A time gap or a time to collision is only a measure while the speed it divides by is at least this (m/s).
LEAST_RATE_MPS = 0.05

# Weight of the drift of gaps that hold (m or s): no runway, no time and no gentler ramp is worth it.
STEADIER = 1000.0
