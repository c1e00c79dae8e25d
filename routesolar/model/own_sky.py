"""A clear-sky index given segment by segment as two states of the sky."""

import numpy as np

from routesolar.errors import UsageError
from routesolar.model.clear_sky import open_sky_on, sun_on
from routesolar.physics.clouds import CloudStates, irradiance_states
from routesolar.physics.kernel_arrays import OpenSky
from routesolar.trip.arrays import FloatArray
from routesolar.trip.fitting import check_index_fits
from routesolar.trip.segments import Segments
from routesolar.trip.sky import ClearSkyIndex

_LEAST = 1e-6  # of clear: what is nothing still has to divide
_DARK_WM2 = 20.0  # of clear sky: below, shares of it say little


def states_of_index(index: ClearSkyIndex, segments: Segments) -> CloudStates:
    """Return the states of an index on the drive, (d, n): one certain state where the beam is known too.

    Without the beam they are those of `physics.clouds.irradiance_states`. Where the sun is down an unknown
    index is that of the nearest segments.

    Raises:
        UsageError: the index is of other segments, unknown under the sun, or its beam alone is more than it.
    """
    check_index_fits(segments, index)
    sky = open_sky_on(segments, sun_on(segments))
    beam_frac = _beam_frac(sky)
    ghi = _known("global_index", index.global_index, sky)
    if index.beam_index is None:
        return irradiance_states(ghi, np.nan, beam_frac)
    beam = _known("beam_index", index.beam_index, sky)
    over = (beam * beam_frac > ghi + 1e-9) & (sky.ghi_wm2 > _DARK_WM2)
    if over.any():
        segment = int(np.argwhere(over)[0, 1])
        raise UsageError(
            f"on segment {segment} the beam alone is more than all light: global_index {ghi[segment]:g}, "
            f"beam_index {beam[segment]:g}, and {beam_frac[:, segment].max():.0%} of clear light is beam; "
            "give both as shares of the same clear sky"
        )
    share, none = np.maximum(ghi, _LEAST), np.zeros_like(beam_frac)
    shares = np.broadcast_to(share, none.shape)
    within = np.minimum(beam, share / np.maximum(beam_frac, _LEAST))
    return CloudStates(np.ones_like(none), shares, within, shares, none, none)


def _beam_frac(sky: OpenSky) -> FloatArray:
    """Return the beam's part of clear global irradiance, (d, n); 0 at night."""
    beam = sky.dni_wm2 * np.sin(np.radians(np.maximum(sky.elevation_deg, 0.0)))
    lit = sky.ghi_wm2 > 0
    frac: FloatArray = np.where(lit, beam / np.where(lit, sky.ghi_wm2, 1.0), 0.0)
    return frac


def _known(name: str, values: FloatArray, sky: OpenSky) -> FloatArray:
    """Return values with gaps at night filled from around them; UsageError for a gap under the sun."""
    unknown = np.isnan(values)
    missing = unknown & (sky.ghi_wm2 > 0).any(axis=0)
    if missing.any():
        raise UsageError(
            f"{name}[{int(np.argmax(missing))}] is nan, but the sun is up there; only at night it may be"
        )
    if unknown.all():
        return np.ones_like(values)
    places = np.arange(len(values))
    return np.interp(places, places[~unknown], values[~unknown])
