"""Arrays and clocks as small JSON for a page's script."""

import json
from typing import Any

import numpy as np

from routesolar.report.colours import Classes
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import to_local

# Whole numbers are stored, each as the step from the one before: small, and exact to these digits.
PLACE_SCALE = 1e6
TENTHS = 10


def script_json(data: dict[str, Any]) -> str:
    """Return JSON that may stand inside an HTML script element."""
    written = json.dumps(data, separators=(",", ":"), allow_nan=False)
    # Inside a script element only "<" could end it or open a comment.
    return written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def steps(values: FloatArray, scale: float) -> dict[str, Any]:
    """Return values times `scale`, rounded, as the steps from each to the next."""
    whole = np.round(values * scale).astype(np.int64)
    return {"scale": scale, "steps": np.diff(whole, prepend=0).tolist()}


def layer(scale: Classes, unit: str) -> dict[str, Any]:
    """Return classes of colour as a script reads them."""
    return {"step": scale.step, "colours": scale.colours, "unit": unit}


def utc_offsets(first_utc_s: float, last_utc_s: float, time_zone: str) -> list[tuple[float, int]]:
    """Return (seconds since the first instant, minutes ahead of UTC), a pair there and at each change."""
    changes: list[tuple[float, int]] = []
    # Clocks change on a quarter of an hour and on none other.
    quarters = np.arange(first_utc_s // 900 * 900 + 900, last_utc_s, 900)
    for utc_s in np.append(first_utc_s, quarters):
        offset = to_local(float(utc_s), time_zone).utcoffset()
        minutes = round(offset.total_seconds() / 60) if offset else 0
        if not changes or changes[-1][1] != minutes:
            changes.append((float(utc_s) - first_utc_s, minutes))
    return changes
