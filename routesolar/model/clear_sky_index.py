"""A weather file's irradiance as shares of a truly clear sky at its own places. Lower than roadside_weather."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.errors import InputError
from routesolar.physics.clear_sky import clear_sky_along
from routesolar.physics.sky import ground_altitude_m, linke_turbidity
from routesolar.physics.sun import sun_position
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.sky import WeatherSeries

_LEAST_PARTS, _PART_S = 12, 1800.0  # moments at which the clear sky is taken within an averaged step
_NIGHT_LIGHT_WM2 = 50.0
_DARK_WM2 = 20.0  # of clear sky: below, a share says nothing
_SOLAR_CONSTANT_WM2 = 1361.0
_DAYLIGHT_WM2 = 200.0  # of clear sky: above, no cloud leaves less than the next line
_DIMMEST_FRAC = 0.01


class Nodes(NamedTuple):
    """The file's steps around the drive, in the drive's own years: middles (m,) and rows of the file (m,)."""

    utc_s: FloatArray
    row: IntArray


def clear_shares(weather: WeatherSeries, nodes: Nodes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return global and beam irradiance as shares of clear, and the beam's part of clear global, (m, k).

    In the dark a share is that of the nearest light.
    """
    clear_ghi, clear_dni, clear_beam = _clear_means_wm2(weather, nodes)
    ghi, dni, dhi = (values[nodes.row] for values in (weather.ghi_wm2, weather.dni_wm2, weather.dhi_wm2))
    dark = clear_ghi < _DARK_WM2
    with np.errstate(divide="ignore", invalid="ignore"):
        cos_zenith = np.where(clear_ghi > 0, clear_beam / clear_dni, 0.0)
        ghi = np.where(np.isnan(ghi), dni * cos_zenith + dhi, ghi)
        dni = np.where(np.isnan(dni), (ghi - dhi) / cos_zenith, dni)
        shares = ghi / clear_ghi, dni / clear_dni, clear_beam / clear_ghi
    _refuse_what_no_sun_gives(weather, nodes, ghi, clear_ghi, cos_zenith)
    _refuse_far_too_dim(weather, nodes, ghi, clear_ghi)
    ghi_share, beam_share, frac = (_lit_around(share, dark) for share in shares)
    return ghi_share, beam_share, frac


def _clear_means_wm2(weather: WeatherSeries, nodes: Nodes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the truly clear ghi, dni and horizontal beam in W/m2 at the file's places, step means, (m, k)."""
    parts = max(_LEAST_PARTS, round(weather.averaged_s / _PART_S)) if weather.averaged_s > 0 else 1
    offset_s = ((np.arange(parts) + 0.5) / parts - 0.5) * weather.averaged_s
    utc_s = nodes.utc_s[:, None] + offset_s
    at = nodes.row if weather.moving else slice(None)
    place = weather.latitude_deg[at], weather.longitude_deg[at]
    ground_m = ground_altitude_m(*place)
    height_m = np.where(np.isfinite(weather.elevation_m[at]), weather.elevation_m[at], ground_m)
    if weather.moving:  # a step has a place of its own, all parts of it the same: (parts, m)
        lights = _clear_wm2(place, height_m, utc_s.T)
        ghi, dni, beam = (values.mean(axis=0)[:, None] for values in lights)
    else:
        lights = _clear_wm2(place, height_m, utc_s.reshape(-1, 1))
        ghi, dni, beam = (values.reshape(*utc_s.shape, -1).mean(axis=1) for values in lights)
    return ghi, dni, beam


def _clear_wm2(
    place: tuple[FloatArray, FloatArray], height_m: FloatArray, utc_s: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the truly clear ghi, dni and horizontal beam in W/m2 at k places and times (j, k) or (j, 1)."""
    utc_s = np.broadcast_to(utc_s, (len(utc_s), len(height_m)))
    sun = sun_position(*place, height_m, utc_s)
    turbidity = linke_turbidity(*place, height_m, utc_s)
    elevation_deg = sun.apparent_elevation_deg
    sky = clear_sky_along(sun.azimuth_deg, elevation_deg, height_m, turbidity, sun.earth_sun_au)
    beam = sky.dni_wm2 * np.sin(np.radians(np.maximum(elevation_deg, 0.0)))
    return sky.ghi_wm2, sky.dni_wm2, beam


def _lit_around(share: FloatArray, dark: NDArray[np.bool_]) -> FloatArray:
    """Return shares whose dark steps take the value of the nearest lit one (0.5 if it is never light)."""
    filled = share.copy()
    steps = np.arange(len(share))
    for place in range(share.shape[1]):
        lit = np.flatnonzero(~dark[:, place])
        if len(lit) == 0:
            filled[:, place] = 0.5
            continue
        middles = (lit[1:] + lit[:-1]) / 2
        nearest = lit[np.searchsorted(middles, steps)]
        filled[:, place] = np.where(dark[:, place], share[nearest, place], share[:, place])
    return filled


def _refuse_what_no_sun_gives(
    weather: WeatherSeries, nodes: Nodes, ghi_wm2: FloatArray, clear_wm2: FloatArray, cos_zenith: FloatArray
) -> None:
    """Raise InputError for light at night, or more than is physically possible: the times or units are wrong.

    The limit by day is 1.5 S cos(z)^1.2 + 100 W/m2 (Long & Dutton 2002, BSRN quality tests; from memory).
    """
    up = clear_wm2 > 0
    possible = 1.5 * _SOLAR_CONSTANT_WM2 * np.nan_to_num(cos_zenith) ** 1.2 + 100.0
    wrong = np.argwhere(ghi_wm2 > np.where(up, possible, _NIGHT_LIGHT_WM2))
    if len(wrong):
        step, place = wrong[0]
        why = "more than the sun can give there" if up[step, place] else "when the sun is down there"
        raise InputError(
            f"{weather.name} has {ghi_wm2[step, place]:.0f} W/m2 around {iso(nodes.utc_s[step])}, {why}; "
            "check the offsets of its times from UTC, its place and its units (W/m2)"
        )


def _refuse_far_too_dim(
    weather: WeatherSeries, nodes: Nodes, ghi_wm2: FloatArray, clear_wm2: FloatArray
) -> None:
    """Raise InputError where daylight never reaches a hundredth of a clear sky's: the units are wrong."""
    day = np.isfinite(ghi_wm2) & (clear_wm2 > _DAYLIGHT_WM2)
    if day.any() and np.all(ghi_wm2[day] < _DIMMEST_FRAC * clear_wm2[day]):
        step, place = np.argwhere(day)[0]
        raise InputError(
            f"{weather.name} has {ghi_wm2[step, place]:.2g} W/m2 around {iso(nodes.utc_s[step])}, where a "
            f"clear sky gives {clear_wm2[step, place]:.0f}: no cloud is that dark; write its irradiance "
            "in W/m2: 600, not 0.6"
        )


def iso(utc_s: float) -> str:
    """Return a moment as text."""
    return f"{np.datetime64(int(utc_s), 's')}Z"
