"""Do nouns of one drive belong together? Asked before their arrays meet in a loop that does not look."""

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.own_shade import OwnShade
from routesolar.trip.segments import Segments
from routesolar.trip.sky import ClearSkyIndex, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain


def check_terrain_fits(segments: Segments, terrain: Terrain) -> None:
    """Raise UsageError unless the terrain was made for as many segments."""
    _check_count("terrain", terrain.count, segments)


def check_canopy_fits(segments: Segments, canopy: Canopy) -> None:
    """Raise UsageError unless the canopy was made for these segments and says something of each."""
    _check_count("canopy", canopy.count, segments)
    if canopy.crown_transmittance_frac is not None:
        d, n = canopy.crown_transmittance_frac.shape
        departures = len(segments.departure_utc_s)
        if d not in (1, departures) or n not in (1, segments.count):
            raise UsageError(
                f"crown_transmittance_frac is for {d} departures and {n} segments, but the drive has "
                f"{departures} and {segments.count}"
            )
    silent = canopy.cover_frac is None and canopy.height_m is None
    unknown = np.flatnonzero(np.isnan(canopy.uniform_cover_frac))
    if silent and unknown.size:
        raise UsageError(
            f"uniform_cover_frac[{unknown[0]}] is nan, and no raster gives the tree density there; "
            "give a share of the ground, 0 for open land"
        )


def check_shade_fits(segments: Segments, shade: OwnShade) -> None:
    """Raise UsageError unless the shade is of as many segments."""
    _check_count("shade", shade.count, segments)


def check_index_fits(segments: Segments, index: ClearSkyIndex) -> None:
    """Raise UsageError unless the clear-sky index is of as many segments."""
    _check_count("clear-sky index", index.count, segments)


def _check_count(what: str, count: int, segments: Segments) -> None:
    if count != segments.count:
        raise UsageError(
            f"the {what} has {count} segments, but the drive has {segments.count}; make it from these "
            "segments, as with count=segments.count"
        )


def check_states_fit(states: SkyStates, drive: tuple[int, ...]) -> None:
    """Raise UsageError unless every field of a sky's states spreads over departures and segments (d, n)."""
    for name in states.__dataclass_fields__:
        shape = np.shape(getattr(states, name))
        padded = (*(1,) * (2 - len(shape)), *shape)
        if len(padded) != 2 or any(axis not in (1, whole) for axis, whole in zip(padded, drive, strict=True)):
            raise UsageError(f"the sky's {name} has shape {shape}, but the drive has {drive}")
