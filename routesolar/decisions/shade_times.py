"""When shade first falls on a spot during a stay, and when it last leaves: to the minute."""

from dataclasses import replace

import numpy as np

from routesolar.model.clear_sky import sun_on
from routesolar.model.shade import cast_shade
from routesolar.trip.arrays import BoolArray, FloatArray
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Terrain

SHADED_FRAC = 0.5  # of the beam left, below which a spot counts as in the shade
_LOOK_S = 30.0  # half of the minute to which the times are told
_MINUTE_S = 60.0


def shade_times_utc_s(
    places: Segments, canopy: Canopy, terrain: Terrain, lit: FloatArray, panel_height_m: float
) -> tuple[FloatArray, FloatArray]:
    """Return the first and the last minute of each spot in the shade, UTC seconds (n,); NaN if never.

    `lit` (d, n) is what is left of the beam at the middles of the stay's steps; NaN is night. The step in which
    the shade comes, and that in which it goes, are looked through twice a minute; a shade that comes and goes
    within one step is not seen.
    """
    shaded = lit < SHADED_FRAC
    ever = shaded.any(axis=0)
    first, last = shaded.argmax(axis=0), len(shaded) - 1 - shaded[::-1].argmax(axis=0)
    step_s = float(places.duration_s[0, 0])
    middles_utc_s = places.middle_utc_s[:, 0]
    bounds_utc_s = places.start_utc_s[0, 0], places.start_utc_s[-1, 0] + step_s
    # Backwards to the look before it was shaded, or forwards to the look after; at most to the stay's own ends.
    away_s = step_s * np.linspace(0.0, 1.0, int(np.ceil(step_s / _LOOK_S)) + 1)[:, None]
    comes_utc_s = np.clip(middles_utc_s[first] - away_s, *bounds_utc_s)
    goes_utc_s = np.clip(middles_utc_s[last] + away_s, *bounds_utc_s)
    dark = _dark(places, np.vstack([comes_utc_s, goes_utc_s]), canopy, terrain, panel_height_m)
    found = [
        np.where(ever, _farthest(times_utc_s, dark_then), np.nan)
        for times_utc_s, dark_then in zip((comes_utc_s, goes_utc_s), np.split(dark, 2), strict=True)
    ]
    return found[0], found[1]


def _farthest(times_utc_s: FloatArray, dark: BoolArray) -> FloatArray:
    """Return the last of each spot's times (k, n) at which it is dark, to the nearest minute."""
    index = len(dark) - 1 - dark[::-1].argmax(axis=0)
    found = np.take_along_axis(times_utc_s, index[None], axis=0)[0]
    whole: FloatArray = np.round(found / _MINUTE_S) * _MINUTE_S
    return whole


def _dark(
    places: Segments, utc_s: FloatArray, canopy: Canopy, terrain: Terrain, panel_height_m: float
) -> BoolArray:
    """Return where the spots lie in the shade at times of their own, (k, n)."""
    then = replace(
        places, start_utc_s=utc_s, duration_s=np.zeros_like(utc_s), departure_utc_s=utc_s[:, 0].copy()
    )
    # A stay is too short for the season to change.
    crowns, standing = canopy.crown_transmittance_frac, canopy.standing_transmittance_frac
    if crowns is not None:
        canopy = replace(canopy, crown_transmittance_frac=crowns[:1])
    if standing is not None:
        canopy = replace(canopy, standing_transmittance_frac=standing[:, :1])
    sun = sun_on(then)
    shade = cast_shade(then, canopy, terrain, sun.azimuth_deg, sun.apparent_elevation_deg, panel_height_m)
    dark: BoolArray = shade.beam_transmittance_frac < SHADED_FRAC
    return dark
