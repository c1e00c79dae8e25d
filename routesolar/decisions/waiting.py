"""Drives laid side by side are counted to one common end: who arrives sooner waits there, in its own shade."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from routesolar.physics.daylight import sunset_utc_s
from routesolar.physics.geodesy import distance_m
from routesolar.trip.arrays import FloatArray
from routesolar.trip.route import Stop
from routesolar.trip.segments import Leg, Segments

SAME_PLACE_M = 200.0  # ends no farther apart are one destination, as a waypoint this near lies on the road
PIECE_S = 300.0  # of a stay: the sun moves by little more than a degree
WAITING = "waiting at the destination"


def lasting_s(drive: Segments) -> float:
    """Return the time from the first departure to the end of its trip, in s."""
    return float(drive.arrival_utc_s[0] - drive.departure_utc_s[0])


def shared_ends(drives: Sequence[Segments]) -> list[int]:
    """Return for each drive the index of that at whose end it waits: the first to arrive at the same place."""
    order = sorted(range(len(drives)), key=lambda i: lasting_s(drives[i]))
    return [next(i for i in order if _apart_m(drives[i], drive) <= SAME_PLACE_M) for drive in drives]


def _apart_m(one: Segments, other: Segments) -> float:
    ends = [(float(each.end_latitude_deg[-1]), float(each.end_longitude_deg[-1])) for each in (one, other)]
    return float(distance_m(*ends[0], *ends[1]))


def with_stay(
    drive: Segments,
    stay_s: FloatArray,
    name: str,
    at_end_of: Segments | None = None,
    stop: Stop | None = None,
) -> Segments:
    """Return a drive with a last stop of so many seconds, (d,), standing on level ground as it arrived.

    Place and heading are those at the end of another drive where one is given; what is said of a stop there
    holds: its heading, roof and trees. A stay may last 0 s where
    another departure's is longer; where none lasts a second, the drive comes back as it is.
    """
    if not np.any(stay_s >= 1.0):
        return drive
    pieces = int(np.ceil(stay_s.max() / PIECE_S))
    piece_s = np.repeat(stay_s[:, None] / pieces, pieces, axis=1)
    arrival_utc_s = drive.arrival_utc_s
    there = at_end_of or drive
    here, clearing = _standing(drive, there), there.legs[-1].clearing
    if stop is not None:
        heading_deg = here["heading_deg"] if stop.heading_deg is None else stop.heading_deg
        here, clearing = here | {"heading_deg": heading_deg, "roofed": stop.roofed}, stop.clearing
    geometry: dict[str, Any] = {
        k: np.append(getattr(drive, k), np.full(pieces, value)) for k, value in here.items()
    }
    if drive.stretch is not None:
        geometry["stretch"] = np.append(drive.stretch, np.repeat(drive.stretch[-1:], pieces))
    return replace(
        drive,
        **geometry,
        start_utc_s=np.hstack([drive.start_utc_s, arrival_utc_s[:, None] + piece_s * np.arange(pieces)]),
        duration_s=np.hstack([drive.duration_s, piece_s]),
        legs=(*drive.legs, Leg(name=name, kind="stop", clearing=clearing)),
    )


def parked_until_sunset(segments: Segments) -> Segments:
    """Return the drive with a last stop at its end, in every departure until sunset there.

    It stands as it arrived. A departure that arrives after sunset waits no time.
    """
    last = segments.count - 1
    arrival_utc_s = segments.arrival_utc_s
    elevation_m = float(np.nan_to_num(segments.middle_elevation_m[last]))
    place = float(segments.end_latitude_deg[last]), float(segments.end_longitude_deg[last])
    sets_utc_s = sunset_utc_s(*place, elevation_m, arrival_utc_s)
    stay_s = np.maximum(np.nan_to_num(sets_utc_s - arrival_utc_s), 0.0)
    return with_stay(segments, stay_s, "parked until sunset")


def after_wait(drive: Segments, start_utc_s: FloatArray, duration_s: FloatArray, name: str) -> Segments:
    """Return a drive after a wait in k pieces, (d, k), standing at its start on level ground as it leaves.

    Pieces may last 0 s. The departures stay those of the drive.
    """
    pieces = start_utc_s.shape[1]
    here = _standing(drive, drive) | {
        "latitude_deg": float(drive.latitude_deg[0]),
        "middle_latitude_deg": float(drive.latitude_deg[0]),
        "end_latitude_deg": float(drive.latitude_deg[0]),
        "longitude_deg": float(drive.longitude_deg[0]),
        "middle_longitude_deg": float(drive.longitude_deg[0]),
        "end_longitude_deg": float(drive.longitude_deg[0]),
        "elevation_m": float(drive.elevation_m[0]),
        "middle_elevation_m": float(drive.elevation_m[0]),
        "heading_deg": float(drive.heading_deg[0]),
        "along_m": 0.0,
        "leg": 0,
    }
    geometry: dict[str, Any] = {
        k: np.append(np.full(pieces, value), getattr(drive, k)) for k, value in here.items()
    }
    if drive.stretch is not None:
        geometry["stretch"] = np.append(np.repeat(drive.stretch[:1], pieces), drive.stretch)
    geometry["leg"] = np.append(np.zeros(pieces, dtype=np.int64), drive.leg + 1)
    return replace(
        drive,
        **geometry,
        bends=replace(drive.bends, segment=drive.bends.segment + pieces),
        start_utc_s=np.hstack([start_utc_s, drive.start_utc_s]),
        duration_s=np.hstack([duration_s, drive.duration_s]),
        legs=(Leg(name=name, kind="stop"), *drive.legs),
    )


def _standing(drive: Segments, there: Segments) -> dict[str, float]:
    """Return the geometry of a segment that stands at the end of `there`, as the last of `drive`."""
    latitude_deg, longitude_deg = float(there.end_latitude_deg[-1]), float(there.end_longitude_deg[-1])
    height_m = float(there.middle_elevation_m[-1])
    return {
        "latitude_deg": latitude_deg,
        "middle_latitude_deg": latitude_deg,
        "end_latitude_deg": latitude_deg,
        "longitude_deg": longitude_deg,
        "middle_longitude_deg": longitude_deg,
        "end_longitude_deg": longitude_deg,
        "elevation_m": height_m,
        "middle_elevation_m": height_m,
        "heading_deg": float(there.heading_deg[-1]),
        "grade_frac": 0.0,
        "speed_mps": 0.0,
        "length_m": 0.0,
        "along_m": float(drive.along_m[-1] + drive.length_m[-1]),
        "leg": len(drive.legs),
        "stopped": True,
        "roofed": False,
        "driven_on": True,
    }
