"""Room turnover: flushing the lines after a patient.

Source: CDC 2003 as quoted by two trade pages: water and air for 20 to 30
seconds through handpieces, scalers and air/water syringe.
"""

from __future__ import annotations

from sidecue.clinical.quantity import Number, not_negative

FLUSH_LEAST_S = 20
FLUSH_USUAL_S = 30


def flush_done(seconds: Number) -> bool:
    """Tell whether a line was flushed long enough."""
    return not_negative(seconds, "flush time (s)") >= FLUSH_LEAST_S
