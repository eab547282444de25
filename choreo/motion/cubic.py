"""The one cubic: a piece of constant jerk.

    station(u) = s + v u + a u^2/2 + j u^3/6      s, v, a: at its start; j: jerk; u: time since then

Numbers, arrays and the solver's expressions alike may be put in. The verification integrates by quadrature instead
(`verification/integration.py`), so that an error here can't hide in it; the page's script
(`page/script/1-motion.js`) is another language and has its own copy.
"""

from __future__ import annotations

from typing import Any


def travelled(u_s: Any, speed_mps: Any, accel_mps2: Any, jerk_mps3: Any) -> Any:
    """Give the way in m made u_s seconds into a piece; all: numbers, arrays of one shape, or expressions."""
    return u_s * (speed_mps + u_s * (accel_mps2 / 2 + u_s * jerk_mps3 / 6))


def gained(u_s: Any, accel_mps2: Any, jerk_mps3: Any) -> Any:
    """Give the change of speed in m/s made u_s seconds into a piece; arguments as for `travelled`."""
    return u_s * (accel_mps2 + u_s * jerk_mps3 / 2)
