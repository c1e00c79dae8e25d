"""What the crowns let through along a drive, from the season and what is said of the trees."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.files.leaf_type import read_evergreen_frac
from routesolar.physics.seasons import crown_doubt_frac, crown_transmittance_frac, day_of_year, leaf_frac
from routesolar.timetable.stretches import StretchValues
from routesolar.trip.arrays import FloatArray
from routesolar.trip.canopy_doubt import CROWNS_SAID_SD
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy
from routesolar.trips.sources import Sources

_IN_LEAF_FRAC = 0.95  # from here on nothing depends on which trees keep their leaves
LEAF_DATE_SD_D = 10.0  # dates of leaf are about a fortnight off (physics.seasons)
KIND_NOTE = (
    "all trees are taken as deciduous; if some keep their leaves, set evergreen_frac in a trip file's [trees]"
)


class Crowned(NamedTuple):
    """A canopy with its crowns' transmittance, and what made it, (d or 1, n or 1) and (n or 1,).

    `leaf_frac` is the share of their leaves that deciduous trees carry, `evergreen_frac` the share of
    evergreens where no stretch says otherwise.
    """

    canopy: Canopy
    leaf_frac: FloatArray
    evergreen_frac: FloatArray


def with_crowns(
    canopy: Canopy,
    segments: Segments,
    sources: Sources,
    said: StretchValues,
    on_map: FloatArray | None = None,
) -> Crowned:
    """Return the canopy with what its crowns let through and how sure that is, (d or 1, n or 1), in a season.

    What is said of a stretch comes before what is said of the whole route, then a raster, then the evergreen
    share that a map shows, `on_map` (n,), NaN where it shows none. Single trees go by their own kind. A
    warning says so where leaves are missing by the season and nothing tells which trees keep theirs.
    """
    leaf = _leaf_frac(segments, sources.season)
    evergreen = np.array([sources.trees.evergreen_frac])
    if sources.leaf_type:
        read = read_evergreen_frac(
            sources.leaf_type, segments.middle_latitude_deg, segments.middle_longitude_deg
        )
        evergreen = read.evergreen_frac
        canopy = replace(
            canopy,
            files=(*canopy.files, *read.files),
            data_frac=min(canopy.data_frac, read.data_frac),
            warnings=(*canopy.warnings, *read.warnings),
        )
    elif on_map is not None and not sources.trees.evergreen_frac:
        evergreen = np.where(np.isnan(on_map), evergreen, on_map)
    fixed = sources.crown_transmittance_frac
    single = np.stack(
        np.broadcast_arrays(*(_passing(segments, sources.season, np.full(1, kind))[0] for kind in (0.0, 1.0)))
    )
    crowns, doubt = _passing(segments, sources.season, evergreen)
    if fixed is not None:
        crowns, doubt = np.full((1, 1), fixed), np.full((1, 1), CROWNS_SAID_SD)
        single = np.full((2, 1, 1), fixed)
    if np.isfinite(said.evergreen_frac).any():
        known = np.isfinite(said.evergreen_frac)
        there = _passing(segments, sources.season, said.evergreen_frac)
        crowns, doubt = np.where(known, there[0], crowns), np.where(known, there[1], doubt)
    if np.isfinite(said.crown_transmittance_frac).any():
        known = np.isfinite(said.crown_transmittance_frac)
        crowns = np.where(known, said.crown_transmittance_frac, crowns)
        doubt = np.where(known, CROWNS_SAID_SD, doubt)
        single = np.where(known, said.crown_transmittance_frac, single)
    canopy = replace(canopy, doubt=replace(canopy.doubt, crown_transmittance_sd_frac=doubt))
    mapped = on_map is not None and bool(np.isfinite(on_map).any())
    told = np.isfinite([said.evergreen_frac, said.crown_transmittance_frac]).any() or fixed is not None
    told = bool(told or sources.leaf_type or mapped or sources.trees.evergreen_frac > 0)
    notes = () if canopy.is_open or told or leaf.min() > _IN_LEAF_FRAC else (KIND_NOTE,)
    canopy = replace(
        canopy,
        crown_transmittance_frac=crowns,
        standing_transmittance_frac=single,
        warnings=(*canopy.warnings, *notes),
    )
    return Crowned(canopy, leaf, evergreen)


def _passing(segments: Segments, season: str, evergreen_frac: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what crowns let through and how far that may be off, by stand and date, (d or 1, n or 1)."""
    leaf = _leaf_frac(segments, season)
    sooner, later = (
        crown_transmittance_frac(_leaf_frac(segments, season, days), evergreen_frac)
        for days in (-LEAF_DATE_SD_D, LEAF_DATE_SD_D)
    )
    doubt = np.hypot(crown_doubt_frac(leaf, evergreen_frac), (later - sooner) / 2)
    return crown_transmittance_frac(leaf, evergreen_frac), doubt


def _leaf_frac(segments: Segments, season: str, later_d: float = 0.0) -> FloatArray:
    """Return the share of their leaves that deciduous trees carry so many days later, (d or 1, n or 1)."""
    if season != "auto":
        return np.full((1, 1), 1.0 if season == "leaf-on" else 0.0)
    return leaf_frac(
        day_of_year(segments.departure_utc_s + 86_400.0 * later_d)[:, None],
        segments.middle_latitude_deg,
        segments.middle_longitude_deg,
        segments.middle_elevation_m,
    )
