"""Ferries of a map: a route that is on no road, but along such a line, is on board."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from routesolar.physics.geodesy import distance_m, earth_centred_m
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.mapped import MapFeatures

BESIDE_M = 300.0  # maps draw ferries roughly, and ships keep to no line
STEP_M = 50.0
LEAST_M = 200.0  # shorter ways off the road are quays and car parks


@dataclass(frozen=True, slots=True, eq=False)
class Ferries:
    """Places on the lines of ferries; None where there is no ferry."""

    places: cKDTree | None

    @classmethod
    def of(cls, features: MapFeatures) -> "Ferries":
        """Return the ferries of a map."""
        found = []
        for feature in features:
            if feature.shape == "line" and feature.tags.get("route") == "ferry":
                lat, lon, _ = feature.rings[0]
                lon = np.unwrap(lon, period=360.0)
                apart_m = distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:])
                place = np.concatenate([[0.0], np.cumsum(np.maximum(np.ceil(apart_m / STEP_M), 1.0))])
                at = np.arange(int(place[-1]) + 1)
                found.append(earth_centred_m(np.interp(at, place, lat), np.interp(at, place, lon)))
        return cls(cKDTree(np.concatenate(found)) if found else None)

    def taken(self, lat: FloatArray, lon: FloatArray, way: IntArray, off: int, ferry: int) -> IntArray:
        """Return the roads that lead to places, with `ferry` in place of `off` where a ferry goes."""
        way = way.copy()
        if self.places is None or len(lat) < 2:
            return way
        beside = self.places.query(earth_centred_m(lat, lon))[0] <= BESIDE_M
        step_m = np.append(0.0, distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]))
        afloat = (way == off) & beside & np.append(False, beside[:-1])
        bounds = np.flatnonzero(np.diff(np.concatenate([[False], afloat, [False]]).astype(np.int8)))
        for first, after in zip(bounds[::2], bounds[1::2], strict=True):
            if step_m[first:after].sum() >= LEAST_M:
                way[first:after] = ferry
        return way
