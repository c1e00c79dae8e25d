"""Arrays and clocks as small JSON for a page's script."""

import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from routesolar.report.colours import NOTHING, Classes
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import QUARTER_HOUR_S, utc_offset_s

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


def layer(scale: Classes, unit: str, nothing: str = NOTHING) -> dict[str, Any]:
    """Return classes of colour as a script reads them, and the colour of exactly nothing."""
    return {"step": scale.step, "colours": scale.colours, "unit": unit, "nothing": nothing}


def spans(dark: Sequence[tuple[float, float]], first_utc_s: float) -> list[list[int]]:
    """Return spans of UTC seconds as whole seconds since the first instant."""
    return [[round(start - first_utc_s), round(end - first_utc_s)] for start, end in dark]


def utc_offsets(first_utc_s: float, last_utc_s: float, time_zone: str) -> list[tuple[float, int]]:
    """Return (seconds since the first instant, minutes ahead of UTC), a pair there and at each change."""
    changes: list[tuple[float, int]] = []
    quarters = np.arange(
        first_utc_s // QUARTER_HOUR_S * QUARTER_HOUR_S + QUARTER_HOUR_S, last_utc_s, QUARTER_HOUR_S
    )
    moments = np.append(first_utc_s, quarters)
    for utc_s, offset_s in zip(moments, utc_offset_s(moments, time_zone), strict=True):
        minutes = round(offset_s / 60)
        if not changes or changes[-1][1] != minutes:
            changes.append((float(utc_s) - first_utc_s, minutes))
    return changes
