"""Round places on an axis: of local clock time, of degrees."""

import math

import numpy as np

from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.report.clock_words import clock_or_date
from routesolar.report.colours import round_step
from routesolar.trip.clock import utc_offset_s

_HOUR_S = 3600
_DAY_S = 86400
_CLOCK_STEPS_S = (300, 600, 900, 1800, *(hours * _HOUR_S for hours in (1, 2, 3, 6, 12)))


def clock_ticks(first_s: float, last_s: float, time_zone: str, most: int = 8) -> list[tuple[float, str]]:
    """Return at most `most` + 1 round local times between two instants, as UTC seconds and labels.

    Midnight is labelled with its date. Where the clock is changed on the way, ticks after it stand where
    the clock then shows round times.
    """
    span_s = max(last_s - first_s, 1.0)
    days_s = max(1, math.ceil(span_s / most / _DAY_S)) * _DAY_S
    step_s = next((step for step in _CLOCK_STEPS_S if span_s / step <= most), days_s)
    first_offset_s = _offset_s(first_s, time_zone)
    local_s = math.ceil((first_s + first_offset_s) / step_s) * step_s
    ticks: list[tuple[float, str]] = []
    while (tick := local_s - _offset_s(local_s - first_offset_s, time_zone)) <= last_s:
        if not ticks or tick > ticks[-1][0]:  # a time that the clock jumps over has no place of its own
            ticks.append((tick, clock_or_date(tick, time_zone)))
        local_s += step_s
    return ticks


def _offset_s(utc_s: float, time_zone: str) -> float:
    return float(utc_offset_s(np.array([utc_s]), time_zone)[0])


def degree_ticks(first_deg: float, last_deg: float, letters: str, most: int = 5) -> list[tuple[float, str]]:
    """Return round degrees between two bounds with labels such as "42.5° S"; `letters` is "NS" or "EW"."""
    step = round_step((last_deg - first_deg) / most)
    decimals = next(digits for digits in range(12) if math.isclose(round(step, digits), step))
    ticks = []
    for number in range(math.ceil(first_deg / step - 1e-9), math.floor(last_deg / step + 1e-9) + 1):
        place = number * step
        shown = float(wrap_longitude_deg(place)) if letters == "EW" else place
        letter = "" if round(shown, 9) in (0, -180) else f" {letters[0] if shown > 0 else letters[1]}"
        ticks.append((place, f"{abs(shown):.{decimals}f}°{letter}"))
    return ticks
