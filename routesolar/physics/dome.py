"""The sky above a panel as a table of 20 x 12 directions, and how much each counts.

Azimuths are counted clockwise from the heading and stand closer ahead and behind, where the road's opening
lets the sky in; elevations are midpoints from the horizon up. Beside straight roads through random stands the
share of sky seen is within .001 on average of a fine table's (even azimuths: .0018), .003 at worst.
"""

import numpy as np

from routesolar.arrays import FloatArray

AZIMUTHS = 20
ELEVATIONS = 12
DRAWN = 0.5  # how far azimuths are drawn towards the road's direction: 20 serve as well as 48 even ones


def azimuth_deg() -> FloatArray:
    """Return the table's azimuths in degrees clockwise from the heading, (20,); densest ahead and behind."""
    even = (np.arange(AZIMUTHS) + 0.5) * 2.0 * np.pi / AZIMUTHS
    azimuths: FloatArray = np.degrees(even - 0.5 * DRAWN * np.sin(2.0 * even))
    return azimuths


def azimuth_weight() -> FloatArray:
    """Return the width of the table's azimuths over their mean width, (20,)."""
    even = (np.arange(AZIMUTHS) + 0.5) * 2.0 * np.pi / AZIMUTHS
    weights: FloatArray = 1.0 - DRAWN * np.cos(2.0 * even)
    return weights


def elevation_deg() -> FloatArray:
    """Return the table's elevations in degrees above the horizon, (12,)."""
    elevations: FloatArray = (np.arange(ELEVATIONS) + 0.5) * 90.0 / ELEVATIONS
    return elevations


def above_horizon_frac(horizon_deg: FloatArray) -> FloatArray:
    """Return the share of each direction's band above horizons (..., 20), as (..., 20, 12).

    Shares are those of the light on a level panel, so that an even horizon leaves cos^2 of it. Horizons below
    level hide nothing.
    """
    edge = np.sin(np.linspace(0.0, np.pi / 2, ELEVATIONS + 1)) ** 2
    hidden = np.sin(np.radians(np.clip(horizon_deg, 0.0, 90.0)))[..., None] ** 2
    share: FloatArray = np.clip((edge[1:] - hidden) / np.diff(edge), 0.0, 1.0)
    return share


def direction_weight(normal: FloatArray, heading_deg: FloatArray) -> FloatArray:
    """Return how much each direction counts for panels with these normals (..., 3), as (..., 20, 12).

    The cosine of incidence integrated over each elevation band at its middle azimuth; the weights of a
    level panel are sin^2 of the band's upper edge less sin^2 of its lower.
    """
    azimuth = np.radians(np.asarray(heading_deg)[..., None] + azimuth_deg())
    edge = np.linspace(0.0, np.pi / 2, ELEVATIONS + 1)
    level = np.diff(edge / 2 + np.sin(2 * edge) / 4)
    up = np.diff(np.sin(edge) ** 2) / 2
    across = normal[..., 0, None] * np.sin(azimuth) + normal[..., 1, None] * np.cos(azimuth)
    weight: FloatArray = across[..., None] * level
    weight += normal[..., 2, None, None] * up  # in place: tables of every direction are large
    np.maximum(0.0, weight, out=weight)
    weight *= azimuth_weight()[:, None]
    return weight
