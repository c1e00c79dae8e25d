"""A route of one's own: from arrays, or from a pandas table."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray
from routesolar.trip.names import printable
from routesolar.trip.route import Route, Waypoint

# Columns of a table, by the names that people give them.
_COLUMNS = {
    "latitude_deg": ("latitude_deg", "latitude", "lat"),
    "longitude_deg": ("longitude_deg", "longitude", "lon", "lng"),
    "elevation_m": ("elevation_m", "elevation", "ele"),
    "time": ("time", "timestamp"),
}


def route_from_arrays(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    *,
    elevation_m: ArrayLike | None = None,
    time: Any = None,
    name: str = "route",
    waypoints: Sequence[Waypoint] = (),
) -> Route:
    """Return the route through points in the order of travel, each array (n,); NaN elevations are unknown.

    `time` is UTC seconds since 1970, numpy datetimes in UTC, or datetimes or Timestamps with a time zone.

    >>> from routesolar import route_from_arrays
    >>> route_from_arrays([50.0, 50.1], [10.0, 10.0], name="due north").elevation_m.tolist()
    [nan, nan]

    Raises:
        UsageError: too few points, arrays of other lengths, positions off the globe, times without zone.
    """
    latitude = np.atleast_1d(np.asarray(latitude_deg, dtype=np.float64))
    count = len(latitude)
    if count < 2:
        raise UsageError(
            f"a route needs two points or more, but there {'is' if count == 1 else 'are'} {count}; a place "
            "where one only stays is route_at(latitude_deg, longitude_deg)"
        )
    unknown = np.full(count, np.nan)
    return Route(
        name=printable(name),
        files=(),
        latitude_deg=latitude,
        longitude_deg=np.asarray(longitude_deg, dtype=np.float64),
        elevation_m=unknown if elevation_m is None else np.asarray(elevation_m, dtype=np.float64),
        time_utc_s=unknown if time is None else _utc_s(time),
        file_index=np.zeros(count, dtype=np.int64),
        piece=np.zeros(count, dtype=np.int64),
        waypoints=tuple(waypoints),
    )


def route_at(latitude_deg: float, longitude_deg: float, *, name: str | None = None) -> Route:
    """Return the route of a camp: one place, where nothing is driven; its stops say how long one stays.

    >>> from routesolar import route_at
    >>> route_at(-41.6, 146.5).name
    '-41.6,146.5'

    Raises:
        UsageError: the position is off the globe.
    """
    called = f"{latitude_deg:.10g},{longitude_deg:.10g}" if name is None else printable(name)
    unknown = np.full(1, np.nan)
    return Route(
        name=called,
        files=(),
        latitude_deg=np.array([latitude_deg], dtype=np.float64),
        longitude_deg=np.array([longitude_deg], dtype=np.float64),
        elevation_m=unknown,
        time_utc_s=unknown,
        file_index=np.zeros(1, dtype=np.int64),
        piece=np.zeros(1, dtype=np.int64),
        waypoints=(Waypoint(name=called, latitude_deg=latitude_deg, longitude_deg=longitude_deg),),
    )


def route_from_frame(frame: Any, *, name: str = "route", waypoints: Sequence[Waypoint] = ()) -> Route:
    """Return the route of a pandas table with a row a point.

    Columns are latitude_deg and longitude_deg, optionally elevation_m and time (or an index of times with a
    zone); latitude, lat, longitude, lon, elevation and ele are understood too.

    Raises:
        UsageError: a column is missing, or as route_from_arrays.
    """
    found = {key: next((n for n in names if n in frame.columns), None) for key, names in _COLUMNS.items()}
    for key in ("latitude_deg", "longitude_deg"):
        if found[key] is None:
            raise UsageError(f"the table has no {key}; its columns are {', '.join(map(str, frame.columns))}")
    time = None if found["time"] is None else frame[found["time"]]
    if time is None and getattr(frame.index, "tz", None) is not None:
        time = frame.index
    elevation = None if found["elevation_m"] is None else frame[found["elevation_m"]].to_numpy()
    return route_from_arrays(
        frame[found["latitude_deg"]].to_numpy(),
        frame[found["longitude_deg"]].to_numpy(),
        elevation_m=elevation,
        time=None if time is None else list(time),
        name=name,
        waypoints=waypoints,
    )


def _utc_s(time: Any) -> FloatArray:
    """Return UTC seconds, to the microsecond, NaN where there is no time."""
    if hasattr(time, "dtype") and np.issubdtype(time.dtype, np.datetime64):
        moments = np.asarray(time).astype("datetime64[us]")
        return np.where(np.isnat(moments), np.nan, moments.astype(np.int64) / 1e6)
    return np.array([_moment_utc_s(moment) for moment in time])


def _moment_utc_s(moment: Any) -> float:
    if isinstance(moment, int | float | np.number):
        return round(float(moment) * 1e6) / 1e6 if np.isfinite(moment) else np.nan
    if moment is None or moment != moment:  # a missing time of a table is not even itself
        return np.nan
    if getattr(moment, "tzinfo", None) is None:
        raise UsageError(f"the time {moment!r} bears no time zone; give UTC seconds, or times with a zone")
    return float(moment.timestamp())
