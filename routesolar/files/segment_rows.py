"""The columns of segments.csv, shared by every file that has a row a segment."""

from itertools import pairwise

import numpy as np

from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import iso_utc
from routesolar.trip.harvest import Harvest

Cell = int | float | str


def segment_columns(harvest: Harvest) -> dict[str, list[Cell]]:
    """Return the columns of segments.csv in order; NaN where undefined."""
    segments = harvest.segments
    unknown = np.full(segments.count, np.nan)
    measured: dict[str, FloatArray] = {
        "duration_s": segments.duration_s[0],
        "latitude_deg": segments.latitude_deg,
        "longitude_deg": within_180(segments.longitude_deg),
        "elevation_m": segments.elevation_m if segments.has_elevation else unknown,
        "heading_deg": segments.heading_deg,
        "grade_frac": segments.grade_frac,
        "speed_mps": segments.speed_mps,
        "sun_azimuth_deg": harvest.sun_azimuth_deg,
        "sun_elevation_deg": harvest.sun_elevation_deg,
        "incidence_deg": harvest.incidence_deg,
        "ghi_wm2": harvest.ghi_wm2,
        "dni_wm2": harvest.dni_wm2,
        "dhi_wm2": harvest.dhi_wm2,
        "beam_transmittance_frac": harvest.beam_transmittance_frac,
        "sky_view_frac": harvest.sky_view_frac,
        "plane_wm2": harvest.plane_wm2,
        "cell_c": harvest.cell_c,
        "power_w": harvest.power_w,
        "energy_wh": harvest.energy_wh,
    }
    return {
        "segment": list(range(1, segments.count + 1)),
        "leg": (segments.leg + 1).tolist(),
        "kind": ["stop" if stopped else "drive" for stopped in segments.stopped],
        "start_utc": [iso_utc(start) for start in segments.start_utc_s[0].tolist()],
    } | {name: column.tolist() for name, column in measured.items()}


def within_180(longitude_deg: FloatArray) -> FloatArray:
    """Return longitudes in [-180, 180), and those already within [-180, 180] unchanged."""
    outside = np.abs(longitude_deg) > 180
    wrapped: FloatArray = np.where(outside, wrap_longitude_deg(longitude_deg), longitude_deg)
    return wrapped


def leg_slices(harvest: Harvest) -> list[slice]:
    """Return the rows of each leg, in order."""
    bounds = np.searchsorted(harvest.segments.leg, np.arange(len(harvest.segments.legs) + 1))
    return [slice(int(first), int(after)) for first, after in pairwise(bounds)]
