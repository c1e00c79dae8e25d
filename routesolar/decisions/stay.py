"""Where and how long the vehicle stands, and the spots around to choose from."""

from difflib import get_close_matches
from typing import NamedTuple

import numpy as np

from routesolar.errors import UsageError
from routesolar.physics.geodesy import metres_per_degree, wrap_longitude_deg
from routesolar.timetable.stops import END_M
from routesolar.trip.arrays import FloatArray
from routesolar.trip.route import Clearing
from routesolar.trip.segments import Leg, Segments

STEP_S = 600.0  # between looks at the sun; in it a tree's shadow moves by a small part of a crown
MOST_SPOTS = 400
LEAST_APART_M = 4.0  # the length of a small vehicle
SAME_PLACE_M = 0.01
LONGEST_S = 7 * 86_400.0
WITHIN_M = (5.0, 2000.0)


class Stay(NamedTuple):
    """A stop in place and time, as the vehicle arrives there, so many metres along its route."""

    name: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    heading_deg: float
    start_utc_s: float
    end_utc_s: float
    time_zone: str
    along_m: float = 0.0
    clearing: Clearing | None = None


def stay_at_stop(segments: Segments, name: str, for_s: float | None = None) -> Stay:
    """Return the stay at a named stop of a drive (its first departure), for its own time or another.

    Raises:
        UsageError: the drive has no stop of that name, or the time is not above zero.
    """
    stops = {leg.name.casefold(): number for number, leg in enumerate(segments.legs) if leg.kind == "stop"}
    number = stops.get(name.strip().casefold())
    if number is None:
        raise UsageError(_no_stop(segments, name))
    rows = np.flatnonzero(segments.leg == number)
    own_s = float(segments.duration_s[0, rows].sum())
    return _stay(segments, int(rows[0]), segments.legs[number].name, own_s if for_s is None else for_s)


def stay_along(segments: Segments, along_m: float, for_s: float) -> Stay:
    """Return a stay at a distance along a drive, from when its first departure comes by.

    Raises:
        UsageError: the drive does not reach so far, or the time is not above zero.
    """
    length_m = float(segments.along_m[-1] + segments.length_m[-1])
    if not 0 <= along_m <= length_m + END_M:
        raise UsageError(f"the drive is {length_m / 1000:.1f} km long; --at cannot be {along_m / 1000:.1f} km")
    ends_m = segments.along_m + segments.length_m
    row = min(int(np.searchsorted(ends_m, along_m - SAME_PLACE_M)), segments.count - 1)
    whole_m = float(segments.length_m[row])
    share = 0.0 if whole_m == 0 else min(max((along_m - float(segments.along_m[row])) / whole_m, 0.0), 1.0)
    return _stay(segments, row, f"{along_m / 1000:g} km", for_s, share)._replace(along_m=min(along_m, length_m))


def spots_around(stay: Stay, within_m: float) -> Segments:
    """Return n spots within a distance of a stay as standing segments, and d steps of its time as departures.

    The first spot is the stop itself; the others stand on a square lattice around it, at most 400 in all.

    Raises:
        UsageError: the distance is not between 5 m and 2 km.
    """
    if not WITHIN_M[0] <= within_m <= WITHIN_M[1]:
        raise UsageError(f"--within {within_m:g}m must be from 5m to 2km; give for example --within 80m")
    apart_m = max(LEAST_APART_M, within_m * np.sqrt(np.pi / (MOST_SPOTS - 25)))
    side = np.arange(-int(within_m / apart_m), int(within_m / apart_m) + 1) * apart_m
    east, north = (offset.ravel() for offset in np.meshgrid(side, side))
    away = np.hypot(east, north)
    order = np.argsort(away, kind="stable")
    order = order[away[order] <= within_m]
    per_degree = metres_per_degree(stay.latitude_deg)
    latitude_deg = stay.latitude_deg + north[order] / per_degree[0]
    longitude_deg = np.asarray(wrap_longitude_deg(stay.longitude_deg + east[order] / per_degree[1]))
    starts_utc_s, step_s = steps_of(stay)
    times_utc_s = np.repeat(starts_utc_s[:, None], len(latitude_deg), axis=1)
    return standing(stay, latitude_deg, longitude_deg, times_utc_s, np.full_like(times_utc_s, step_s))


def steps_of(stay: Stay) -> tuple[FloatArray, float]:
    """Return the starts of equal steps of a stay, UTC seconds, and their length in s."""
    whole_s = stay.end_utc_s - stay.start_utc_s
    count = max(1, int(np.ceil(whole_s / STEP_S)))
    step_s = whole_s / count
    return stay.start_utc_s + step_s * np.arange(count, dtype=np.float64), step_s


def _stay(segments: Segments, row: int, name: str, for_s: float, share: float = 0.0) -> Stay:
    """Return the stay that begins when so much of a segment is driven."""
    if not 0 < for_s <= LONGEST_S:
        raise UsageError(
            f"a stay of {for_s / 60:g} min is not above zero and at most a week; give for example --for 4h"
        )
    start_utc_s = float(segments.start_utc_s[0, row] + share * segments.duration_s[0, row])
    north_deg = float(segments.end_latitude_deg[row] - segments.latitude_deg[row])
    east_deg = wrap_longitude_deg(float(segments.end_longitude_deg[row] - segments.longitude_deg[row]))
    longitude_deg = float(segments.longitude_deg[row]) + share * float(east_deg)
    return Stay(
        name=name,
        latitude_deg=float(segments.latitude_deg[row]) + share * north_deg,
        longitude_deg=longitude_deg if share == 0.0 else float(wrap_longitude_deg(longitude_deg)),
        elevation_m=float(np.nan_to_num(segments.elevation_m[row])),
        along_m=float(segments.along_m[row]),
        heading_deg=float(segments.heading_deg[row]),
        start_utc_s=start_utc_s,
        end_utc_s=start_utc_s + for_s,
        time_zone=segments.time_zone,
        clearing=segments.legs[int(segments.leg[row])].clearing,
    )


def _no_stop(segments: Segments, name: str) -> str:
    """Return what to say where no stop has this name, with the nearest that has."""
    names = [leg.name for leg in segments.legs if leg.kind == "stop"]
    if not names:
        return f'--at "{name}": the drive has no stops; add one with --stop, or give --at 42km --for 4h'
    near = get_close_matches(name, names, 1, 0.4)
    nearest = f' (did you mean "{near[0]}"?)' if near else ""
    return f'--at "{name}" is not a stop on the drive{nearest}; its stops: {", ".join(names)}'


def standing(
    stay: Stay,
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    start_utc_s: FloatArray,
    duration_s: FloatArray,
) -> Segments:
    """Return n segments that stand on level ground, facing north, through times (d, n)."""
    n = len(latitude_deg)
    nothing, height_m = np.zeros(n), np.full(n, stay.elevation_m)
    return Segments(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=height_m,
        middle_latitude_deg=latitude_deg,
        middle_longitude_deg=longitude_deg,
        middle_elevation_m=height_m,
        end_latitude_deg=latitude_deg,
        end_longitude_deg=longitude_deg,
        heading_deg=nothing,
        grade_frac=nothing,
        speed_mps=nothing,
        length_m=nothing,
        along_m=np.full(n, stay.along_m),
        leg=np.zeros(n, dtype=np.int64),
        stopped=np.ones(n, dtype=bool),
        roofed=np.zeros(n, dtype=bool),
        driven_on=np.zeros(n, dtype=bool),
        start_utc_s=start_utc_s,
        duration_s=duration_s,
        departure_utc_s=start_utc_s[:, 0],
        legs=(Leg(name=stay.name, kind="stop", clearing=stay.clearing),),
        time_zone=stay.time_zone,
    )
