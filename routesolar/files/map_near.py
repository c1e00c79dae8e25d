"""Which places of a map lie near a route: cells of some hundred metres, so that millions are asked quickly."""

from dataclasses import dataclass

import numpy as np

from routesolar.physics.geodesy import metres_per_degree
from routesolar.trip.arrays import BoolArray, FloatArray

REACH_M = 400.0  # beyond it, houses and trees hide nothing that hills do not
CELL_M = 100.0
MOST_CELLS = 30_000_000  # larger cells on routes across continents
FAR_DEG = 0.3  # of latitude, and as many metres of longitude
AROUND_FRAC = 0.1  # of the route's extent, shown around it on a map


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """Cells around a route, (rows, columns), south-west first; longitudes count from `west_deg` eastwards."""

    marked: BoolArray
    south_deg: float
    west_deg: float
    cell_lat_deg: float
    cell_lon_deg: float

    def holds(self, latitude_deg: FloatArray, longitude_deg: FloatArray) -> BoolArray:
        """Return which places lie near the route."""
        rows, columns = self.marked.shape
        row = np.floor((latitude_deg - self.south_deg) / self.cell_lat_deg)
        column = np.floor(((longitude_deg - self.west_deg) % 360.0) / self.cell_lon_deg)
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        found = np.zeros(np.shape(latitude_deg), dtype=bool)
        found[inside] = self.marked[row[inside].astype(np.int64), column[inside].astype(np.int64)]
        return found

    def may_matter(self, latitude_deg: FloatArray, longitude_deg: FloatArray) -> BoolArray:
        """Return which places lie in the box around the route or within some 30 km of it.

        Corners of woods further away are left out: what they bound near the route stays as it is.
        """
        south, west, north, wide = self._box(FAR_DEG)
        found: BoolArray = (latitude_deg >= south) & (latitude_deg <= north)
        found[found] = (longitude_deg[found] - west) % 360.0 <= wide
        return found

    def _box(self, more_deg: float) -> tuple[float, float, float, float]:
        """Return the box around the route, wider by so much: south, west, north and its width, in degrees."""
        rows, columns = self.marked.shape
        per_lon = self.cell_lon_deg / self.cell_lat_deg
        return (
            self.south_deg - more_deg,
            self.west_deg - more_deg * per_lon,
            self.south_deg + rows * self.cell_lat_deg + more_deg,
            min(columns * self.cell_lon_deg + 2 * more_deg * per_lon, 360.0),
        )

    def reaches(self, latitude_deg: FloatArray, longitude_deg: FloatArray) -> bool:
        """Return whether the box around an object meets the box of the map that is drawn."""
        rows, columns = self.marked.shape
        north_deg, wide_deg = self.south_deg + rows * self.cell_lat_deg, columns * self.cell_lon_deg
        along = (longitude_deg - self.west_deg + 180.0) % 360.0 - 180.0
        if along.max() - along.min() > 180.0:
            return False
        return bool(
            latitude_deg.max() >= self.south_deg
            and latitude_deg.min() <= north_deg
            and along.max() >= 0.0
            and along.min() <= wide_deg
        )


def near_route(latitude_deg: FloatArray, longitude_deg: FloatArray) -> Near:
    """Return the cells within 400 m of a route, in a box that leaves room around it."""
    lon = np.unwrap(longitude_deg, period=360.0)
    middle = float(np.clip((latitude_deg.min() + latitude_deg.max()) / 2, -85.0, 85.0))
    north_per_deg, east_per_deg = (float(value) for value in metres_per_degree(middle))
    extent_m = max(np.ptp(latitude_deg) * north_per_deg, np.ptp(lon) * east_per_deg, 4000.0)
    margin_m = REACH_M + AROUND_FRAC * extent_m
    south, west = latitude_deg.min() - margin_m / north_per_deg, lon.min() - margin_m / east_per_deg
    high_m = np.ptp(latitude_deg) * north_per_deg + 2 * margin_m
    wide_m = min(np.ptp(lon) * east_per_deg + 2 * margin_m, 359.0 * east_per_deg)
    cell_m = max(CELL_M, np.sqrt(high_m * wide_m / MOST_CELLS))
    shape = (int(high_m / cell_m) + 1, int(wide_m / cell_m) + 1)
    lat, lon = _dense(latitude_deg, lon, cell_m, north_per_deg, east_per_deg)
    row, column = (lat - south) * north_per_deg / cell_m, (lon - west) * east_per_deg / cell_m
    marked = np.zeros(shape, dtype=bool)
    reach = int(np.ceil(REACH_M / cell_m)) + 1
    places = np.unique(np.stack([row.astype(np.int64), column.astype(np.int64)]), axis=1)
    for down in range(-reach, reach + 1):
        for across in range(-reach, reach + 1):
            if np.hypot(down, across) <= reach:
                r, c = places[0] + down, places[1] + across
                inside = (r >= 0) & (r < shape[0]) & (c >= 0) & (c < shape[1])
                marked[r[inside], c[inside]] = True
    return Near(marked, float(south), float(west), cell_m / north_per_deg, cell_m / east_per_deg)


def _dense(
    lat: FloatArray, lon: FloatArray, cell_m: float, north_per_deg: float, east_per_deg: float
) -> tuple[FloatArray, FloatArray]:
    """Return points on the straight lines between the route's points, one a cell or closer."""
    apart_m = np.hypot(np.diff(lat) * north_per_deg, np.diff(lon) * east_per_deg)
    parts = np.maximum(np.ceil(apart_m / cell_m), 1.0).astype(np.int64)
    place = np.concatenate([[0.0], np.cumsum(parts)])
    at = np.arange(int(place[-1]) + 1, dtype=np.float64)
    return np.interp(at, place, lat), np.interp(at, place, lon)
