"""How exact a drawing has to be."""

from __future__ import annotations

# Half a millimetre is a twentieth of a pixel at the largest zoom of the page (100 pixels a metre).
DRAWN_M = 5e-4

# At a corner 5 m from the reference point this is a millimetre.
DRAWN_HEADING_RAD = 2e-4

# Events nearer together than this are one moment.
SAME_MOMENT_S = 1e-6
