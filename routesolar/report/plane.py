"""The route laid flat for drawing: Web Mercator in degrees, unwrapped across the antimeridian."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from routesolar.report.colours import round_step
from routesolar.report.units import METRIC, Units
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import Ground, MapPicture
from routesolar.trip.segments import Segments

KM_PER_DEG = 111.195  # along the equator of a sphere of radius 6371 km: for scale bars
_MERCATOR_LIMIT_DEG = 85.05

Bounds = tuple[float, float, float, float]  # west, south, east, north in the plane


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """The segments as straight lines: `ends` is (n, 2, 2), start and end, each x (east) and y (north)."""

    ends: FloatArray

    @property
    def middles(self) -> FloatArray:
        """The middle of each line, (n, 2)."""
        middles: FloatArray = self.ends.mean(axis=1)
        return middles

    def of(self, places: Sequence[tuple[float, float]]) -> FloatArray:
        """Return latitudes and longitudes in the plane, (k, 2), on the lines' turn of the globe."""
        north, east = np.array(places, dtype=np.float64).T
        turns = np.round((self.ends[:, :, 0].mean() - east) / 360)
        return np.column_stack([east + 360 * turns, mercator(north)])

    def bounds(self, margin: float) -> Bounds:
        """Return west, south, east, north with a margin as a share of the larger side; never of no size."""
        (west, south), (east, north) = self.ends.min(axis=(0, 1)), self.ends.max(axis=(0, 1))
        pad = max(east - west, north - south, 0.01) * margin
        return float(west - pad), float(south - pad), float(east + pad), float(north + pad)


def slenderness(bounds: Bounds) -> float:
    """Return height over width."""
    west, south, east, north = bounds
    return (north - south) / (east - west)


def widened(bounds: Bounds, aspect: float) -> Bounds:
    """Return bounds grown about their middle to the given width over height."""
    west, south, east, north = bounds
    width, height = max(east - west, (north - south) * aspect), max(north - south, (east - west) / aspect)
    x, y = (west + east) / 2, (south + north) / 2
    return x - width / 2, y - height / 2, x + width / 2, y + height / 2


def lines(segments: Segments) -> Lines:
    """Return the route's segments in the plane, the first within 180 degrees of Greenwich."""
    longitude_deg = np.column_stack([segments.longitude_deg, segments.end_longitude_deg])
    latitude_deg = np.column_stack([segments.latitude_deg, segments.end_latitude_deg])
    x = np.unwrap(longitude_deg.ravel(), period=360).reshape(-1, 2)
    return Lines(ends=np.stack([x, mercator(latitude_deg)], axis=-1))


def mercator(latitude_deg: FloatArray) -> FloatArray:
    """Return y in degrees at the equator's scale; latitudes beyond the map's edge are drawn on it."""
    seen = np.clip(latitude_deg, -_MERCATOR_LIMIT_DEG, _MERCATOR_LIMIT_DEG)
    y: FloatArray = np.degrees(np.arctanh(np.sin(np.radians(seen))))
    return y


def latitude(y: float) -> float:
    """Return the latitude in degrees drawn at `y`."""
    return math.degrees(math.atan(math.sinh(math.radians(y))))


def picture_bounds(picture: MapPicture, near_x: float) -> Bounds:
    """Return a picture's west, south, east, north in the plane, on the turn of the globe nearest `near_x`."""
    turn = 360 * round((near_x - (picture.west_deg + picture.east_deg) / 2) / 360)
    south, north = mercator(np.array([picture.south_deg, picture.north_deg]))
    return picture.west_deg + turn, float(south), picture.east_deg + turn, float(north)


def ground_bounds(ground: Ground, segments: Segments) -> dict[str, list[float]]:
    """Return south, west, north, east of each picture that there is, on the route's turn of the globe."""
    near_x = float(lines(segments).middles[:, 0].mean())
    bounds = {}
    for name, picture in (("trees", ground.trees), ("relief", ground.relief)):
        if picture is not None:
            west, _, east, _ = picture_bounds(picture, near_x)
            bounds[name] = [picture.south_deg, west, picture.north_deg, east]
    return bounds


def leg_middles(segments: Segments) -> list[int]:
    """Return the segment of each leg that its number stands on: halfway in distance, or where it stands."""
    along_m = segments.along_m + segments.length_m / 2
    middles = []
    for leg in range(len(segments.legs)):
        rows = np.flatnonzero(segments.leg == leg)
        half_m = (along_m[rows[0]] + along_m[rows[-1]]) / 2
        middles.append(int(rows[np.argmin(np.abs(along_m[rows] - half_m))]))
    return middles


def scale_bar(bounds: Bounds, units: Units = METRIC) -> tuple[float, str]:
    """Return a scale bar's length in the plane and its label: round, a fifth of the width or more."""
    west, south, east, north = bounds
    km_per_x = KM_PER_DEG * math.cos(math.radians(latitude((south + north) / 2)))
    shown = round_step((east - west) / 5 * km_per_x * units.distance_per_km)
    return shown / units.distance_per_km / km_per_x, f"{shown:g} {units.distance}"
