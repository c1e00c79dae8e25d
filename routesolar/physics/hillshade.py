"""Shaded relief for maps: how brightly slopes face a light that shines from the north-west."""

import math

import numpy as np

from routesolar.arrays import FloatArray

LIGHT_AZIMUTH_DEG, LIGHT_ELEVATION_DEG = 315.0, 45.0  # cartographers' custom
FLAT_FRAC = math.sin(math.radians(LIGHT_ELEVATION_DEG))  # what level ground receives


def ground_gradient(elevation_m: FloatArray, pixel_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the rise per metre towards east and towards north of a raster (rows, columns) with north up.

    `pixel_m` is a pixel's side, (rows, 1) or of one row for all. From the eight neighbours, the four nearest
    with double weight (Horn 1981, "Hill shading and the reflectance map", Proc. IEEE 69, 14-47); NaN on
    the raster's rim and beside an unknown pixel.
    """
    east, north = np.full(elevation_m.shape, np.nan), np.full(elevation_m.shape, np.nan)
    across = elevation_m[:, 2:] - elevation_m[:, :-2]
    up = elevation_m[:-2] - elevation_m[2:]
    east[1:-1, 1:-1] = across[:-2] + 2 * across[1:-1] + across[2:]
    north[1:-1, 1:-1] = up[:, :-2] + 2 * up[:, 1:-1] + up[:, 2:]
    return east / (8 * pixel_m), north / (8 * pixel_m)


def lambert_shade(east_frac: FloatArray, north_frac: FloatArray) -> FloatArray:
    """Return the share (0-1) of the light that falls on slopes, which rise so much per metre east and north.

    The cosine of the angle between the light and the slope's normal (Horn 1981, Lambert's reflectance map);
    0 where a slope turns away, FLAT_FRAC on level ground, NaN stays NaN.
    """
    azimuth, elevation = math.radians(LIGHT_AZIMUTH_DEG), math.radians(LIGHT_ELEVATION_DEG)
    level = math.cos(elevation)
    towards = -level * (math.sin(azimuth) * east_frac + math.cos(azimuth) * north_frac) + math.sin(elevation)
    shade: FloatArray = np.maximum(towards / np.sqrt(1 + east_frac**2 + north_frac**2), 0.0)
    return shade
