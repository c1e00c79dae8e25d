"""What a weather file says along a drive. Lower than conditions, which alone uses it.

Irradiance is not carried from place to place or hour to hour; its share of a truly clear sky at the file's
own place and time is, so that the sun's path between them stays exact.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.errors import InputError
from routesolar.physics.clouds import States, forecast_sun_out_prob, irradiance_states, sun_out_states
from routesolar.physics.geodesy import earth_centred_m
from routesolar.physics.kernel import clear_sky_along
from routesolar.physics.sky import ground_altitude_m, linke_turbidity
from routesolar.physics.sun import sun_position
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.segments import Segments
from routesolar.trip.sky import WeatherSeries

LAPSE_C_PER_M = 0.0065  # ISO 2533 standard atmosphere
LONGEST_GAP_S = 3 * 3600.0  # between two values; longer gaps in daylight are refused
FAR_M = 50_000.0
_LEAST_PARTS, _PART_S = 12, 1800.0  # moments at which the clear sky is taken within an averaged step
_NIGHT_LIGHT_WM2 = 50.0
_DARK_WM2 = 20.0  # of clear sky: below, a share says nothing
_NEAR_M = 1000.0
_DAY_S = 86400.0


class WeatherAlong(NamedTuple):
    """Weather on segments (d, n): `states` is None where the file says nothing of light; the rest NaN there."""

    states: States | None
    air_c: FloatArray
    wind_mps: FloatArray
    wind_from_deg: FloatArray
    notes: tuple[str, ...]


class _Nodes(NamedTuple):
    """The file's steps around the drive, in the drive's own years: middles (m,) and rows of the file (m,)."""

    utc_s: FloatArray
    row: IntArray


def weather_along(
    weather: WeatherSeries, segments: Segments, sun_apparent_elevation_deg: FloatArray
) -> WeatherAlong:
    """Return a file's weather at the middle of every segment, linear in time and by distance in space.

    Raises:
        InputError: the drive leaves the file's time, or a daylight gap of more than 3 hours lies on it.
    """
    at, nodes = segments.middle_utc_s, _nodes(weather, segments)
    near = _nearness(weather, segments)

    def mean(values: FloatArray) -> FloatArray:
        return _by_place(_by_time(values, nodes.utc_s, at, weather.step_s), near)

    states = _states(weather, nodes, mean, sun_apparent_elevation_deg)
    if states is not None:
        _refuse_gaps(weather, states, at, sun_apparent_elevation_deg)
    wind, from_rad = (values[nodes.row] for values in (weather.wind_mps, np.radians(weather.wind_from_deg)))
    direction_deg = np.degrees(np.arctan2(mean(wind * np.sin(from_rad)), mean(wind * np.cos(from_rad)))) % 360
    air_c = mean(weather.air_c[nodes.row])
    if np.isfinite(weather.elevation_m).all():
        rise_m = np.nan_to_num(segments.middle_elevation_m) - near @ weather.elevation_m
        air_c = air_c - LAPSE_C_PER_M * rise_m
    return WeatherAlong(states, air_c, mean(wind), direction_deg, _notes(weather, segments, nodes))


def _nodes(weather: WeatherSeries, segments: Segments) -> _Nodes:
    """Return the steps of the file from before the first departure to after the last arrival."""
    first, last = float(segments.start_utc_s.min()), float(segments.arrival_utc_s.max())
    margin_s = LONGEST_GAP_S + weather.step_s
    if weather.typical:
        return _typical_nodes(weather, first - margin_s, last + margin_s)
    time, half = weather.time_utc_s, weather.step_s / 2
    if first < time[0] - half or last > time[-1] + half:
        raise InputError(
            f"{weather.name} covers {_iso(time[0] - half)} to {_iso(time[-1] + half)}, but the drive lasts "
            f"from {_iso(first)} to {_iso(last)}; give a file that covers it, or another departure"
        )
    row = np.flatnonzero((time > first - margin_s) & (time < last + margin_s))
    return _Nodes(time[row], row)


def _typical_nodes(weather: WeatherSeries, first_s: float, last_s: float) -> _Nodes:
    """Return a typical year's steps on the days asked for; 29 February repeats the 28th."""
    days = np.arange(np.floor(first_s / _DAY_S), np.floor(last_s / _DAY_S) + 1)
    dates = days.astype("datetime64[D]")
    months = dates.astype("datetime64[M]")
    in_month = (dates - months).astype(int)
    month = months.astype(int) % 12
    in_month = np.where((month == 1) & (in_month == 28), 27, in_month)
    in_year = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])[month] + in_month
    day_of_row = np.floor(weather.time_utc_s / _DAY_S).astype(int)
    rows = [np.flatnonzero(day_of_row == day) for day in in_year]
    utc_s = [day * _DAY_S + weather.time_utc_s[row] % _DAY_S for day, row in zip(days, rows, strict=True)]
    return _Nodes(np.concatenate(utc_s), np.concatenate(rows))


def _states(
    weather: WeatherSeries, nodes: _Nodes, mean: Callable[[FloatArray], FloatArray], elevation_deg: FloatArray
) -> States | None:
    """Return the states on segments: of the irradiance where there is some, else of the cloud fraction."""
    ghi, beam, beam_frac = _clear_shares(weather, nodes)
    cloud = weather.cloud_frac[nodes.row]
    if np.isnan(ghi).all() and np.isnan(cloud).all():
        return None
    measured = irradiance_states(mean(ghi), mean(beam), mean(beam_frac))
    covered = sun_out_states(forecast_sun_out_prob(mean(cloud), elevation_deg))
    lit = np.isfinite(measured.sun_out_prob)
    return States(*(np.where(lit, one, other) for one, other in zip(measured, covered, strict=True)))


def _clear_shares(weather: WeatherSeries, nodes: _Nodes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return global and beam irradiance as shares of clear, and the beam's part of clear global, (m, k).

    In the dark a share is that of the nearest light.
    """
    clear_ghi, clear_dni, clear_beam = _clear_means_wm2(weather, nodes)
    ghi, dni, dhi = (values[nodes.row] for values in (weather.ghi_wm2, weather.dni_wm2, weather.dhi_wm2))
    _refuse_light_at_night(weather, nodes, ghi, clear_ghi)
    dark = clear_ghi < _DARK_WM2
    with np.errstate(divide="ignore", invalid="ignore"):
        cos_zenith = clear_beam / clear_dni
        ghi = np.where(np.isnan(ghi), dni * cos_zenith + dhi, ghi)
        dni = np.where(np.isnan(dni), (ghi - dhi) / cos_zenith, dni)
        shares = ghi / clear_ghi, dni / clear_dni, clear_beam / clear_ghi
    ghi_share, beam_share, frac = (_lit_around(share, dark) for share in shares)
    return ghi_share, beam_share, frac


def _clear_means_wm2(weather: WeatherSeries, nodes: _Nodes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the truly clear ghi, dni and horizontal beam in W/m2 at the file's places, step means, (m, k)."""
    parts = max(_LEAST_PARTS, round(weather.averaged_s / _PART_S)) if weather.averaged_s > 0 else 1
    offset_s = ((np.arange(parts) + 0.5) / parts - 0.5) * weather.averaged_s
    shape = (len(nodes.utc_s), parts, len(weather.latitude_deg))
    utc_s = np.broadcast_to((nodes.utc_s[:, None] + offset_s)[..., None], shape).reshape(-1, shape[2])
    place = weather.latitude_deg, weather.longitude_deg
    ground_m = ground_altitude_m(*place)
    height_m = np.where(np.isfinite(weather.elevation_m), weather.elevation_m, ground_m)
    sun = sun_position(*place, height_m, utc_s)
    turbidity = linke_turbidity(*place, height_m, utc_s)
    elevation_deg = sun.apparent_elevation_deg
    sky = clear_sky_along(sun.azimuth_deg, elevation_deg, height_m, turbidity, sun.earth_sun_au)
    beam = sky.dni_wm2 * np.sin(np.radians(np.maximum(elevation_deg, 0.0)))
    means = (values.reshape(shape).mean(axis=1) for values in (sky.ghi_wm2, sky.dni_wm2, beam))
    ghi, dni, beam = means
    return ghi, dni, beam


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


def _by_time(values: FloatArray, time_s: FloatArray, at: FloatArray, step_s: float) -> FloatArray:
    """Return values (m, k) at the times asked for, (d, n, k); NaN within gaps that are too long."""
    result = np.full((*at.shape, values.shape[1]), np.nan)
    for place in range(values.shape[1]):
        there = np.isfinite(values[:, place])
        if not there.any():
            continue
        result[..., place] = np.interp(at, time_s[there], values[there, place])
        result[_bracket_s(time_s[there], at, step_s) > max(LONGEST_GAP_S, step_s), place] = np.nan
    return result


def _bracket_s(time_s: FloatArray, at: FloatArray, step_s: float) -> FloatArray:
    """Return how far apart the two steps around each time are; beyond the ends, a step's reach counts."""
    after = np.searchsorted(time_s, at)
    before = np.where(after > 0, time_s[after - 1], at - step_s / 2)
    beyond = np.where(after < len(time_s), time_s[np.minimum(after, len(time_s) - 1)], at + step_s / 2)
    before = np.where(after < len(time_s), before, np.minimum(before, time_s[-1]))
    bracket: FloatArray = beyond - before
    return bracket


def _nearness(weather: WeatherSeries, segments: Segments) -> FloatArray:
    """Return each place's weight on each segment, (n, k), by the inverse square of distance; rows add to 1."""
    weight = 1 / (_distance_m(weather, segments) ** 2 + _NEAR_M**2)
    near: FloatArray = weight / weight.sum(axis=1, keepdims=True)
    return near


def _distance_m(weather: WeatherSeries, segments: Segments) -> FloatArray:
    """Return the straight distance of each place from each segment, (n, k)."""
    route = earth_centred_m(segments.middle_latitude_deg, segments.middle_longitude_deg)
    places = earth_centred_m(weather.latitude_deg, weather.longitude_deg)
    distance: FloatArray = np.linalg.norm(route[:, None] - places, axis=-1)
    return distance


def _by_place(values: FloatArray, near: FloatArray) -> FloatArray:
    """Return the mean over places (d, n) of (d, n, k); places without a value do not count."""
    there = np.isfinite(values)
    weight = np.where(there, near, 0.0).sum(axis=-1)
    total = np.where(there, values * near, 0.0).sum(axis=-1)
    mean: FloatArray = np.where(weight > 0, total / np.where(weight > 0, weight, 1.0), np.nan)
    return mean


def _refuse_gaps(weather: WeatherSeries, states: States, at: FloatArray, elevation_deg: FloatArray) -> None:
    """Raise InputError where the sun is up and the file says nothing of the sky."""
    missing = np.isnan(states.sun_out_prob) & (elevation_deg > 0)
    if missing.any():
        first, last = _iso(at[missing].min()), _iso(at[missing].max())
        raise InputError(
            f"{weather.name} says nothing of the sky between {first} and {last}, and gaps of more than 3 h "
            "are not filled; complete the file (ghi_wm2 or cloud_frac), or depart at another time"
        )


def _refuse_light_at_night(
    weather: WeatherSeries, nodes: _Nodes, ghi_wm2: FloatArray, clear_wm2: FloatArray
) -> None:
    """Raise InputError where the file has sunlight at night: its times or places are wrong."""
    wrong = np.argwhere((ghi_wm2 > _NIGHT_LIGHT_WM2) & (clear_wm2 == 0))
    if len(wrong):
        step, place = wrong[0]
        raise InputError(
            f"{weather.name} has {ghi_wm2[step, place]:.0f} W/m2 around {_iso(nodes.utc_s[step])}, when the "
            "sun is down there; check the offsets of its times from UTC, and its place"
        )


def _notes(weather: WeatherSeries, segments: Segments, nodes: _Nodes) -> tuple[str, ...]:
    """Return what a reader of the result should know about the file."""
    notes = list(weather.notes)
    farthest_km = _distance_m(weather, segments).min(axis=1).max() / 1000
    if farthest_km > FAR_M / 1000:
        notes.append(f"{weather.name}: the drive goes up to {farthest_km:.0f} km from the nearest place in it")
    light = np.isfinite(weather.ghi_wm2) | np.isfinite(weather.dni_wm2) | np.isfinite(weather.cloud_frac)
    for what, said in (("sky", light), ("air temperature", np.isfinite(weather.air_c))):
        there = said[nodes.row].any(axis=1)
        if there.any():
            bracket_s = _bracket_s(nodes.utc_s[there], segments.middle_utc_s, weather.step_s)
            gap_frac = float(np.mean(bracket_s > 1.5 * weather.step_s))
            if gap_frac > 0:
                notes.append(f"{weather.name}: {gap_frac:.0%} of the drive lies in gaps of the {what}")
    return tuple(notes)


def _iso(utc_s: float) -> str:
    """Return a moment as text."""
    return f"{np.datetime64(int(utc_s), 's')}Z"
