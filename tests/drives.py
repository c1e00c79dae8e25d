"""Timed drives for tests, built without files: a straight road, or parked."""

from datetime import datetime

import numpy as np

from routesolar.physics.geodesy import destination
from routesolar.trip.segments import Leg, Segments


def utc(text: str) -> float:
    """Return seconds since 1970 of an ISO time with offset."""
    return datetime.fromisoformat(text).timestamp()


def straight_drive(
    latitude_deg: float,
    longitude_deg: float,
    departures_utc_s: list[float],
    *,
    heading_deg: float = 90.0,
    segments: int = 240,
    step_s: float = 30.0,
    speed_mps: float = 20.0,
    grade_frac: float = 0.0,
    elevation_m: float = 100.0,
) -> Segments:
    """Return a drive on a constant heading and grade; speed 0 is parked."""
    n = segments
    along_m = np.arange(n + 1) * step_s * speed_mps
    latitude, longitude = destination(latitude_deg, longitude_deg, heading_deg, along_m)
    middle_latitude, middle_longitude = destination(
        latitude_deg, longitude_deg, heading_deg, (along_m[1:] + along_m[:-1]) / 2
    )
    height_m = elevation_m + grade_frac * along_m
    departures = np.asarray(departures_utc_s, dtype=float)
    half = n // 2
    kind = "drive" if speed_mps > 0 else "stop"
    return Segments(
        latitude_deg=latitude[:-1],
        longitude_deg=longitude[:-1],
        elevation_m=height_m[:-1],
        middle_latitude_deg=middle_latitude,
        middle_longitude_deg=middle_longitude,
        middle_elevation_m=(height_m[1:] + height_m[:-1]) / 2,
        end_latitude_deg=latitude[1:],
        end_longitude_deg=longitude[1:],
        heading_deg=np.full(n, heading_deg % 360),
        grade_frac=np.full(n, grade_frac),
        speed_mps=np.full(n, speed_mps),
        length_m=np.diff(along_m),
        along_m=along_m[:-1],
        leg=(np.arange(n) >= half).astype(int),
        stopped=np.full(n, speed_mps == 0),
        roofed=np.zeros(n, dtype=bool),
        driven_on=np.ones(n, dtype=bool),
        start_utc_s=departures[:, None] + np.arange(n) * step_s,
        duration_s=np.full((len(departures), n), step_s),
        departure_utc_s=departures,
        legs=(Leg(name="first half", kind=kind), Leg(name="second half", kind=kind)),
        time_zone="UTC",
    )
