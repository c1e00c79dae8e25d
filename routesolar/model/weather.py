"""What a weather file says along a drive. Lower than conditions.

Irradiance is not carried from place to place or hour to hour; its share of a truly clear sky at the file's
own place and time is, so that the sun's path between them stays exact.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.errors import InputError
from routesolar.model.clear_sky_index import Nodes, clear_shares, iso
from routesolar.physics.air import LAPSE_C_PER_M
from routesolar.physics.clouds import CloudStates, forecast_sun_out_prob, irradiance_states, sun_out_states
from routesolar.physics.geodesy import earth_centred_m
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.segments import Segments
from routesolar.trip.sky import WeatherSeries

LONGEST_GAP_S = 3 * 3600.0  # between two values; longer gaps in daylight are refused
FAR_M = 50_000.0
SAME_GROUND_M = 10_000.0  # judgement: within a valley; farther off the road's height says little of a place's
_NEAR_M = 1000.0
_DAY_S = 86400.0


class WeatherAlong(NamedTuple):
    """Weather on segments (d, n): `states` is None where the file says nothing of light; the rest NaN there."""

    states: CloudStates | None
    air_c: FloatArray
    wind_mps: FloatArray
    wind_from_deg: FloatArray


def weather_along(
    weather: WeatherSeries,
    segments: Segments,
    sun_apparent_elevation_deg: FloatArray,
    days: Sequence[int] = (0,),
) -> Iterator[WeatherAlong]:
    """Yield a file's weather at the middle of every segment, linear in time and by distance in space.

    For each of `days` it is the weather so many days later (earlier where negative), under the drive's own sun.

    Raises:
        InputError: the drive leaves the file's time, or a daylight gap of more than 3 hours lies on it.
    """
    weather = _with_heights(weather, segments)
    nodes = _nodes(weather, segments, days)
    weigh = _weights(weather, segments)
    light = _light(weather, nodes)
    wind, from_rad = (values[nodes.row] for values in (weather.wind_mps, np.radians(weather.wind_from_deg)))
    east, north, air_c = wind * np.sin(from_rad), wind * np.cos(from_rad), weather.air_c[nodes.row]
    if np.isfinite(weather.elevation_m).all():
        height_m = weather.elevation_m[nodes.row, None] if weather.moving else weather.elevation_m
        air_c = air_c + LAPSE_C_PER_M * height_m
        sea_level_c = LAPSE_C_PER_M * segments.middle_elevation_m
    else:
        sea_level_c = np.zeros(segments.count)
    for day in days:
        at = segments.middle_utc_s + day * _DAY_S

        def mean(values: FloatArray, at: FloatArray = at) -> FloatArray:
            return _by_place(values, nodes.utc_s, at, weather.step_s, weigh)

        states = None if light is None else _states(light, mean, sun_apparent_elevation_deg)
        if states is not None:
            _refuse_gaps(weather, states, at, sun_apparent_elevation_deg)
        direction_deg = np.degrees(np.arctan2(mean(east), mean(north))) % 360
        yield WeatherAlong(states, mean(air_c) - sea_level_c, mean(wind), direction_deg)


def weather_warnings(weather: WeatherSeries, segments: Segments) -> tuple[str, ...]:
    """Return what a reader of the result should know about a file: its kind, its distance, its gaps."""
    nodes = _nodes(weather, segments)
    warnings = list(weather.warnings)
    farthest_km = _farthest_m(weather, segments) / 1000
    if farthest_km > FAR_M / 1000:
        warnings.append(
            f"{weather.name}: the drive goes up to {farthest_km:.0f} km from the nearest place in it"
        )
    if _measures_light(weather) and np.isnan(_with_heights(weather, segments).elevation_m).any():
        warnings.append(
            f"{weather.name}: places without a height lie more than {SAME_GROUND_M / 1000:.0f} km off the "
            "road; their clear sky uses the height from a coarse world map, which in mountains can be 8 % off: "
            "add a column elevation_m"
        )
    light = np.isfinite(weather.ghi_wm2) | np.isfinite(weather.dni_wm2) | np.isfinite(weather.cloud_frac)
    for what, said in (("sky", light), ("air temperature", np.isfinite(weather.air_c))):
        there = said[nodes.row].any(axis=1)
        if there.any():
            bracket_s = _bracket_s(nodes.utc_s[there], segments.middle_utc_s, weather.step_s)
            gap_frac = float(np.mean(bracket_s > 1.5 * weather.step_s))
            if gap_frac > 0:
                warnings.append(f"{weather.name}: {gap_frac:.0%} of the drive lies in gaps of the {what}")
    return tuple(warnings)


def _measures_light(weather: WeatherSeries) -> bool:
    """Tell whether there is any irradiance, whose share of a clear sky depends on its place's height."""
    return bool(np.isfinite(weather.ghi_wm2).any() or np.isfinite(weather.dni_wm2).any())


def _with_heights(weather: WeatherSeries, segments: Segments) -> WeatherSeries:
    """Return the weather with the road's height at places near it whose height the file does not give."""
    unknown = np.isnan(weather.elevation_m)
    if not unknown.any():
        return weather
    distance_m, nearest = _nearest(_road_m(segments), _places_m(weather))
    beside = distance_m <= SAME_GROUND_M
    road_m = segments.middle_elevation_m[nearest]
    return replace(weather, elevation_m=np.where(unknown & beside, road_m, weather.elevation_m))


def _nodes(weather: WeatherSeries, segments: Segments, days: Sequence[int] = (0,)) -> Nodes:
    """Return the file's steps from before the first departure to after the last arrival, and days around."""
    first = float(segments.start_utc_s.min()) + min(days) * _DAY_S
    last = float(segments.arrival_utc_s.max()) + max(days) * _DAY_S
    margin_s = LONGEST_GAP_S + weather.step_s
    if weather.typical:
        return _typical_nodes(weather, first - margin_s, last + margin_s)
    time, half = weather.time_utc_s, weather.step_s / 2
    if first < time[0] - half or last > time[-1] + half:
        raise InputError(
            f"{weather.name} covers {iso(time[0] - half)} to {iso(time[-1] + half)}, but the drive lasts "
            f"from {iso(first)} to {iso(last)}; give a file that covers it, or another departure"
        )
    row = np.flatnonzero((time > first - margin_s) & (time < last + margin_s))
    return Nodes(time[row], row)


def _typical_nodes(weather: WeatherSeries, first_s: float, last_s: float) -> Nodes:
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
    return Nodes(np.concatenate(utc_s), np.concatenate(rows))


def _light(weather: WeatherSeries, nodes: Nodes) -> tuple[FloatArray, ...] | None:
    """Return shares of clear light (global, beam, the beam's part) and the cloud fraction; None if unsaid."""
    shares, cloud_frac = clear_shares(weather, nodes), weather.cloud_frac[nodes.row]
    return None if np.isnan(shares[0]).all() and np.isnan(cloud_frac).all() else (*shares, cloud_frac)


def _states(
    light: tuple[FloatArray, ...], mean: Callable[[FloatArray], FloatArray], elevation_deg: FloatArray
) -> CloudStates:
    """Return the states on segments: of the irradiance where there is some, else of the cloud fraction."""
    *shares, cloud_frac = light
    measured = irradiance_states(*map(mean, shares))
    if np.isnan(cloud_frac).all():
        return measured
    covered = sun_out_states(forecast_sun_out_prob(mean(cloud_frac), elevation_deg))
    lit = np.isfinite(measured.sun_out_prob)
    return CloudStates(*(np.where(lit, one, other) for one, other in zip(measured, covered, strict=True)))


def _by_place(
    values: FloatArray, time_s: FloatArray, at: FloatArray, step_s: float, weigh: Callable[[int], FloatArray]
) -> FloatArray:
    """Return values (m, k) at the times asked for (d, n), the weighted mean of places that have one.

    Place after place, since times, segments and places together would not fit into memory.
    """
    total, weight = np.zeros(at.shape), np.zeros(at.shape)
    for place in np.flatnonzero(np.isfinite(values).any(axis=0)):
        there = _by_time(values[:, place], time_s, at, step_s)
        counted = np.where(np.isfinite(there), weigh(int(place)), 0.0)
        total += counted * np.nan_to_num(there)
        weight += counted
    mean: FloatArray = np.where(weight > 0, total / np.where(weight > 0, weight, 1.0), np.nan)
    return mean


def _by_time(values: FloatArray, time_s: FloatArray, at: FloatArray, step_s: float) -> FloatArray:
    """Return one place's values (m,) at the times asked for, (d, n); NaN within gaps that are too long."""
    told = np.isfinite(values)
    told_s, longest_s = time_s[told], max(LONGEST_GAP_S, step_s)
    result: FloatArray = np.interp(at, told_s, values[told])
    inside = told_s[0] <= at.min() and at.max() <= told_s[-1]
    if not inside or np.diff(told_s).max(initial=0.0) > longest_s:  # to look for gaps takes its time
        result[_bracket_s(told_s, at, step_s) > longest_s] = np.nan
    return result


def _bracket_s(time_s: FloatArray, at: FloatArray, step_s: float) -> FloatArray:
    """Return how far apart the two steps around each time are; beyond the ends without limit.

    The first and last step still reach half a step out.
    """
    after = np.searchsorted(time_s, at)
    before, beyond = time_s[np.maximum(after - 1, 0)], time_s[np.minimum(after, len(time_s) - 1)]
    between = (after > 0) & (after < len(time_s))
    reached = np.abs(at - beyond) <= step_s / 2 + 1.0
    bracket: FloatArray = np.where(between, beyond - before, np.where(reached, step_s, np.inf))
    return bracket


def _weights(weather: WeatherSeries, segments: Segments) -> Callable[[int], FloatArray]:
    """Return a function: from a place's number to its weight on each segment, (n,), 1 over distance squared."""
    road_m, places_m = _road_m(segments), _places_m(weather)

    def weight(place: int) -> FloatArray:
        if weather.moving:
            return np.ones(len(road_m))
        squared: FloatArray = ((road_m - places_m[place]) ** 2).sum(axis=1)
        return 1 / (squared + _NEAR_M**2)

    return weight


def _nearest(places_m: FloatArray, from_m: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return how far the nearest of some places is from each point, and which it is."""
    from scipy.spatial import cKDTree  # slow to import, and most drives have no weather file

    distance_m, number = cKDTree(places_m).query(from_m)
    return distance_m, number


def _farthest_m(weather: WeatherSeries, segments: Segments) -> float:
    """Return how far a segment lies from the nearest place at most, or from where a moving one is then."""
    road_m, places_m = _road_m(segments), _places_m(weather)
    if not weather.moving:
        return float(_nearest(places_m, road_m)[0].max())
    along = (np.interp(segments.middle_utc_s, weather.time_utc_s, axis) for axis in places_m.T)
    return float(np.linalg.norm(np.stack(tuple(along), axis=-1) - road_m, axis=-1).max())


def _road_m(segments: Segments) -> FloatArray:
    """Return the segments' middles in space, (n, 3)."""
    return earth_centred_m(segments.middle_latitude_deg, segments.middle_longitude_deg)


def _places_m(weather: WeatherSeries) -> FloatArray:
    """Return the places in space, (k, 3); those of a moving one, (t, 3)."""
    return earth_centred_m(weather.latitude_deg, weather.longitude_deg)


def _refuse_gaps(
    weather: WeatherSeries, states: CloudStates, at: FloatArray, elevation_deg: FloatArray
) -> None:
    """Raise InputError where the sun is up and the file says nothing of the sky."""
    missing = np.isnan(states.sun_out_prob) & (elevation_deg > 0)
    if missing.any():
        first, last = iso(at[missing].min()), iso(at[missing].max())
        raise InputError(
            f"{weather.name} has no sky data between {first} and {last}, and neither gaps of more than "
            "3 h nor the end of its values are filled; complete the file (ghi_wm2 or cloud_frac), or depart at "
            "another time"
        )
