"""What trees leave of a cloudless sky's diffuse light: it comes mostly from around the sun and from low down.

Relative radiance is that of sky type 12 (clear, low turbidity) of ISO 15469:2004 / CIE S 011: brighter towards
the horizon, brighter around the sun (Darula & Kittler 2002, "CIE General Sky Standard Defining Luminance
Distributions": the gradation's constants seen quoted, the indicatrix's from memory). It is laid over the
directions of physics.dome, so that trees and hills weigh it direction by direction. Only shares come from here:
how much diffuse light there is, and how much of it an open panel gets, is told elsewhere.

Known error: a hazier or a clearer sky than type 12 (13, 11) changes what deep woods get under a low sun by up
to 9 % of all light there, elsewhere by 1 to 3 %.
"""

from functools import cache

import numpy as np

from routesolar.arrays import FloatArray, read_only, room
from routesolar.physics.compiled import compiled
from routesolar.physics.dome import AZIMUTHS, DRAWN, ELEVATIONS, azimuth_deg

GRADATION = (-1.0, -0.32)  # towards the horizon: a, b
INDICATRIX = (10.0, -3.0, 0.45)  # around the sun: c, d, e
_WITHIN = 5  # places in each direction, of which a direction of the table is the mean
_AT_A_TIME = 4096  # skies laid under the sun at once: bounds memory


def relative_radiance(cos_zenith: FloatArray, from_sun_rad: FloatArray) -> FloatArray:
    """Return the sky's radiance, without unit, at zenith angles and at angles from the sun."""
    a, b = GRADATION
    c, d, e = INDICATRIX
    gradation = 1.0 + a * np.exp(b / np.maximum(cos_zenith, 1e-3))
    around_sun = 1.0 + c * (np.exp(d * from_sun_rad) - np.exp(d * np.pi / 2)) + e * np.cos(from_sun_rad) ** 2
    radiance: FloatArray = gradation * around_sun
    return radiance


def clear_view_frac(
    sky_frac: FloatArray, weight: FloatArray, sun_from_heading_deg: FloatArray, sun_elevation_deg: FloatArray
) -> FloatArray:
    """Return the share of a cloudless sky's diffuse light left to panels, (d, n).

    `sky_frac` (n, 20, 12) is what is left of each direction, `weight` (n, 20, 12) how much it counts for the
    panel (physics.dome), suns are (d, n); those below the horizon count as on it. Linear between suns 7.5
    degrees apart in elevation and as far apart as the table's azimuths: with the table's own coarseness within
    .006 of exact ways through random stands.
    """
    elevation = np.where(np.isfinite(sun_elevation_deg), np.clip(sun_elevation_deg, 0.0, 90.0), 0.0)
    low = _row_below(elevation.min(initial=90.0))
    high = _row_below(elevation.max(initial=0.0)) + 2
    light = np.ascontiguousarray(_light_table()[:, low:high].reshape(AZIMUTHS * ELEVATIONS, -1))
    azimuths = np.concatenate([azimuth_deg(), azimuth_deg()[:1] + 360.0])
    around, share = read_only(sun_from_heading_deg), room(*sun_from_heading_deg.shape)
    for first in range(0, share.shape[1], _AT_A_TIME):
        part = slice(first, first + _AT_A_TIME)
        seen = np.array(np.broadcast_to(weight, sky_frac.shape)[part]).reshape(-1, AZIMUTHS * ELEVATIONS)
        open_frac = np.ascontiguousarray(sky_frac[part]).reshape(seen.shape)
        left = _light_left(open_frac, seen, light).reshape(-1, high - low, AZIMUTHS)
        _fill_between(left, around, read_only(elevation), azimuths, low, first, share)
    return share


@compiled
def _light_left(sky_frac: FloatArray, weight: FloatArray, light: FloatArray) -> FloatArray:
    """Return what is left of the light, (n, m), of n skies and their directions' weights (n, k), light (k, m).

    Summed in the order of k: a library divides the sum among as many processors as there are, which changes
    its last bits.
    """
    left, whole = np.zeros((len(weight), light.shape[1])), np.empty(light.shape[1])
    for row in range(len(weight)):
        whole[:] = 0.0
        for k in range(len(light)):
            counts = weight[row, k]
            counts_left = counts * sky_frac[row, k]
            for column in range(light.shape[1]):
                left[row, column] += counts_left * light[k, column]
                whole[column] += counts * light[k, column]
        for column in range(light.shape[1]):
            left[row, column] /= whole[column]
    return left


@compiled
def _row_below(elevation_deg: float) -> int:
    """Return the table's edge of elevations at or below a sun, though not the last."""
    return min(int(elevation_deg * ELEVATIONS / 90.0), ELEVATIONS - 1)


@compiled
def _fill_between(
    left: FloatArray,
    from_heading_deg: FloatArray,
    elevation_deg: FloatArray,
    azimuths_deg: FloatArray,
    low: int,
    first: int,
    share: FloatArray,
) -> None:
    """Fill part of the share (d, n) from values (m, rows, 20), linear between the suns they are for.

    They are those of segments from `first` on; their first row is `low`.
    """
    for i in range(share.shape[0]):
        for j in range(len(left)):
            elevation = elevation_deg[i, first + j]
            row = _row_below(elevation)
            up = elevation * ELEVATIONS / 90.0 - row
            around = (from_heading_deg[i, first + j] - azimuths_deg[0]) % 360.0 + azimuths_deg[0]
            column = min(max(np.searchsorted(azimuths_deg, around, side="right") - 1, 0), AZIMUTHS - 1)
            across = (around - azimuths_deg[column]) / (azimuths_deg[column + 1] - azimuths_deg[column])
            below, above, after = left[j, row - low], left[j, row + 1 - low], (column + 1) % AZIMUTHS
            lower = (1.0 - across) * below[column] + across * below[after]
            upper = (1.0 - across) * above[column] + across * above[after]
            share[i, first + j] = (1.0 - up) * lower + up * upper


@cache
def _light_table() -> FloatArray:
    """Return mean radiances in the table's directions, (240, 13, 20), by the sun's elevation and azimuth."""
    sun_up = np.radians(np.linspace(0.0, 90.0, ELEVATIONS + 1))[:, None]
    sun_azimuth = np.radians(azimuth_deg())
    inside = (np.arange(_WITHIN) + 0.5) / _WITHIN
    even = (np.arange(AZIMUTHS)[:, None] + inside) * 2.0 * np.pi / AZIMUTHS
    azimuth = even - 0.5 * DRAWN * np.sin(2.0 * even)
    up = (np.arange(ELEVATIONS)[:, None] + inside) * np.pi / 2 / ELEVATIONS
    table = np.zeros((AZIMUTHS, ELEVATIONS, ELEVATIONS + 1, AZIMUTHS))
    for i in range(_WITHIN):
        for j in range(_WITHIN):
            elevation = up[None, :, j, None, None]
            turned = np.cos(azimuth[:, None, i, None, None] - sun_azimuth)
            cosine = np.sin(elevation) * np.sin(sun_up) + np.cos(elevation) * np.cos(sun_up) * turned
            from_sun = np.arccos(np.clip(cosine, -1.0, 1.0))
            table += relative_radiance(np.sin(elevation), from_sun) / _WITHIN**2
    return table.reshape(AZIMUTHS * ELEVATIONS, ELEVATIONS + 1, AZIMUTHS)
