"""What of the light on it a panel's pane of glass lets in, compared with light that meets it squarely."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import exponential

GLASS_INDEX = 1.526
GLASS_EXTINCTION_PER_M = 4.0
GLASS_THICKNESS_M = 0.002


@inlined
def beam_modifier(cos_incidence: float) -> float:
    """Return the share of the beam that plain glass passes, relative to square incidence; a scalar.

    De Soto et al. 2006, Solar Energy 80:78: Fresnel, Snell and Bouguer for one pane (n 1.526, extinction
    4 per m, 2 mm). Exactly 0 at and behind 90 deg.
    """
    if cos_incidence <= 0.0:
        return 0.0
    refracted = np.sqrt(1.0 - (1.0 - cos_incidence**2) * (1.0 / GLASS_INDEX**2))
    reflected_s = ((cos_incidence - GLASS_INDEX * refracted) / (cos_incidence + GLASS_INDEX * refracted)) ** 2
    reflected_p = ((GLASS_INDEX * cos_incidence - refracted) / (GLASS_INDEX * cos_incidence + refracted)) ** 2
    reflected_square = ((GLASS_INDEX - 1.0) / (GLASS_INDEX + 1.0)) ** 2
    path = GLASS_EXTINCTION_PER_M * GLASS_THICKNESS_M
    passed = (1.0 - (reflected_s + reflected_p) / 2.0) * exponential(-path / refracted)
    return passed * (1.0 / ((1.0 - reflected_square) * np.exp(-path)))


def diffuse_modifiers(tilt_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the glass's modifiers for diffuse light from the sky and from the ground, for tilts of 0-180 deg.

    The mean of `beam_modifier` over the part of the sky (of the ground) in front of the plane, weighted
    by the cosine of incidence: Marion 2017, Solar Energy 147:344. Interpolated in a table of tenths of a
    degree, within 1e-5. A level plane sees no ground: 0, the limit.
    """
    tilt = np.asarray(tilt_deg, dtype=np.float64)
    tilts, sky = _sky_modifier_table()
    return np.interp(tilt, tilts, sky), np.interp(180.0 - tilt, tilts, sky)


@cache
def _sky_modifier_table() -> tuple[FloatArray, FloatArray]:
    """Return tilts of 0 to 180 deg and the modifier for the part of the sky each leaves in view."""
    tilt_deg = np.linspace(0.0, 180.0, 1801)
    nodes, weights = np.polynomial.legendre.leggauss(32)
    return tilt_deg, np.array([_sky_modifier(tilt, nodes / 2 + 0.5, weights) for tilt in tilt_deg])


@compiled
def _sky_modifier(tilt_deg: float, nodes: FloatArray, weights: FloatArray) -> float:
    # Rings around the normal: out to `whole` all sky (or all ground), farther out cut by the horizon,
    # with steep ends that the squared sine makes smooth.
    tilt = np.radians(tilt_deg)
    whole = abs(np.pi / 2 - tilt)
    passed = total = 0.0
    for i in range(len(nodes)):
        u, weight = nodes[i], weights[i]
        ring = whole * u
        if tilt < np.pi / 2:
            light = weight * whole * np.sin(2 * ring)
            passed, total = passed + light * beam_modifier(np.cos(ring)), total + light
        ring = whole + (np.pi / 2 - whole) * np.sin(np.pi / 2 * u) ** 2
        horizon = np.cos(ring) * np.cos(tilt) / max(np.sin(ring) * np.sin(tilt), 1e-12)
        above = np.arccos(max(-1.0, min(1.0, -horizon))) / np.pi
        light = weight * (np.pi / 2 - whole) * np.pi / 2 * np.sin(np.pi * u) * np.sin(2 * ring) * above
        passed, total = passed + light * beam_modifier(np.cos(ring)), total + light
    return passed / total if total > 0 else 0.0
