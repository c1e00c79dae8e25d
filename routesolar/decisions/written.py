"""Values as results are written: what is undefined is None."""

import math


def defined(value: float) -> float | None:
    """Return the number, or None for NaN."""
    return None if math.isnan(value) else float(value)
