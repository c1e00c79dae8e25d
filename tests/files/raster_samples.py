"""Small rasters written for the tests, in a UTM zone or in degrees."""

from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import rasterio
from numpy.typing import NDArray
from rasterio import Affine

UTM = "EPSG:32755"
EAST, NORTH = 500_000.0, 5_400_000.0  # top left corner of the sample rasters
TO_UTM = pyproj.Transformer.from_crs("EPSG:4326", UTM, always_xy=True)


def from_origin(west: float, north: float, cell_x: float, cell_y: float) -> Affine:
    """Return the transform of a north-up raster."""
    return Affine(cell_x, 0.0, west, 0.0, -cell_y, north)


def write(path: Path, values: NDArray[Any], *, cell: float = 30.0, **profile: Any) -> str:
    """Write `values` (rows, cols) or (bands, rows, cols) with the top left corner at EAST, NORTH."""
    bands = values if values.ndim == 3 else values[None]
    tags = {key: profile.pop(key) for key in ("scales", "offsets", "units", "mask") if key in profile}
    settings = {
        "driver": "GTiff",
        "count": bands.shape[0],
        "height": bands.shape[1],
        "width": bands.shape[2],
        "dtype": bands.dtype.name,
        "crs": UTM,
        "transform": from_origin(EAST, NORTH, cell, cell),
    } | profile
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "w", **settings) as dataset:
        dataset.write(bands)
        for key in ("scales", "offsets", "units"):
            if key in tags:
                setattr(dataset, key, tags[key])
        if "mask" in tags:
            dataset.write_mask(tags["mask"])
    return str(path)


def points(east_m: Any, south_m: Any) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return latitude, longitude of points so far east and south of the top left corner (by pyproj)."""
    longitude, latitude = TO_UTM.transform(
        EAST + np.atleast_1d(np.asarray(east_m, dtype=float)),
        NORTH - np.atleast_1d(np.asarray(south_m, dtype=float)),
        direction="INVERSE",
    )
    return np.asarray(latitude), np.asarray(longitude)
