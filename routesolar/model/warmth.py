"""How warm the battery is along a drive, from the air, where it is placed and its heater."""

import numpy as np

from routesolar.physics.air import usual_air_c
from routesolar.physics.battery_warmth import (
    HEAT_CAPACITY_J_PER_C_WH,
    NO_HEATER,
    OUTSIDE_TIME_CONSTANT_S,
    VEHICLE_TIME_CONSTANT_S,
    Enclosure,
    Heater,
    run_warmth,
)
from routesolar.trip.arrays import FloatArray, plain
from routesolar.trip.rig import Battery
from routesolar.trip.segments import Segments

_HOURS = 24  # before departure; what was before them is nearly forgotten


def day_before_c(
    segments: Segments, start_utc_s: FloatArray, duration_s: FloatArray, air_c: FloatArray
) -> FloatArray | None:
    """Return the air of the 24 hours before what begins at the drive's start, hour by hour, (d, 24).

    It swings as is usual for place and season, and comes to the first of the air given, which broadcasts to
    the times (d, k). None where that never changes.
    """
    if np.ptp(air_c) == 0:
        return None
    before_s = start_utc_s[:, :1] + 3600.0 * (np.arange(_HOURS) - _HOURS + 0.5)
    usual_c = usual_air_c(
        np.repeat(segments.middle_latitude_deg[:1], _HOURS + 1),
        np.repeat(segments.middle_longitude_deg[:1], _HOURS + 1),
        np.repeat(segments.middle_elevation_m[:1], _HOURS + 1),
        np.hstack([before_s, start_utc_s[:, :1] + duration_s[:, :1] / 2]),
    )
    first_c = np.broadcast_to(air_c, start_utc_s.shape)[:, :1]
    return usual_c[:, :-1] + first_c - usual_c[:, -1:]


def around_cells(
    duration_s: FloatArray, air_c: FloatArray, battery: Battery, before_c: FloatArray | None = None
) -> Enclosure:
    """Return what is around the battery's cells in n segments of d drives, `air_c` broadcasting to (d, n).

    `before_c` (d, 24) is the air of the day before, hour by hour; without it the battery starts as warm as the
    air, or as its heater keeps it.
    """
    duration_s = plain(duration_s)
    air_c = np.array(np.broadcast_to(air_c, duration_s.shape), np.float64)
    if battery.temperature_c is not None:
        fixed_c = np.full_like(air_c, battery.temperature_c)
        return _enclosure(fixed_c, duration_s, fixed_c[:, 0].copy(), NO_HEATER, battery)
    heater = Heater(battery.heating_w, battery.kept_c) if battery.heating_w else NO_HEATER
    start_c = _around(air_c[:, 0].copy() if before_c is None else before_c.mean(axis=1), battery)
    start_c = np.maximum(start_c, battery.kept_c) if battery.heating_w else start_c
    if before_c is not None:
        hours_s = np.full(before_c.shape, 3600.0)
        start_c = run_warmth(_enclosure(_around(before_c, battery), hours_s, start_c, heater, battery)).end_c
    return _enclosure(_around(air_c, battery), duration_s, start_c, heater, battery)


def _around(air_c: FloatArray, battery: Battery) -> FloatArray:
    """Return how warm it is around the battery: as the air, or at least as its heated interior."""
    around_c: FloatArray = air_c if battery.cabin_c is None else np.maximum(air_c, battery.cabin_c)
    return plain(around_c)


def _enclosure(
    around_c: FloatArray, duration_s: FloatArray, start_c: FloatArray, heater: Heater, battery: Battery
) -> Enclosure:
    within = battery.placed == "vehicle"
    lag_s = VEHICLE_TIME_CONSTANT_S if within else OUTSIDE_TIME_CONSTANT_S
    conductance_w_per_c = HEAT_CAPACITY_J_PER_C_WH * battery.capacity_wh / lag_s
    limit_c = battery.cold_limit_c
    return Enclosure(around_c, duration_s, start_c, lag_s, conductance_w_per_c, heater, limit_c)
