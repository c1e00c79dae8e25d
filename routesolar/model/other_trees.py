"""The trees as they may be too: canopies at the nodes of their doubt, and the shade they cast."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.model.shade import (
    UNEVEN,
    CrownsMet,
    Outlook,
    beam_left,
    crowns_of_canopy,
    met_by_beam,
    met_by_sky,
    shade_through,
    sky_left,
)
from routesolar.model.thinned import SAMPLE, SKY_SAMPLE, Sample, raised, sample_of
from routesolar.model.trees import Wood, wood_at
from routesolar.physics import kernel_arrays as arrays
from routesolar.physics.unsure_trees import tree_nodes
from routesolar.trip.arrays import FloatArray
from routesolar.trip.canopy_doubt import CanopyDoubt
from routesolar.trip.surroundings import Canopy


class OtherShades(NamedTuple):
    """The shade of other trees than stated: k nodes (k, 3) of physics.unsure_trees, and the shade at each.

    `rests_on` says what width, cover and crowns rest on, as the canopy's doubt has it.
    """

    nodes: FloatArray
    shades: tuple[arrays.Shade, ...]
    rests_on: tuple[str, str, str]


NO_OTHERS = OtherShades(np.zeros((0, 3)), (), CanopyDoubt.none().rests_on)


class Stated(NamedTuple):
    """The crowns met among the trees as stated on the way to suns and sky, and the shade they cast on faces."""

    to_suns: CrownsMet
    to_sky: CrownsMet
    shade: arrays.Shade


def nodes_of(canopy: Canopy) -> FloatArray:
    """Return the nodes of physics.unsure_trees for a canopy, (k, 3); none where no tree is in doubt."""
    return tree_nodes((False, False, False) if canopy.is_open else canopy.doubt.causes)


def canopy_at(canopy: Canopy, node: FloatArray) -> Canopy:
    """Return the canopy with width, cover and crowns so many standard deviations above what is stated, (3,).

    The width is log-normal, so that it stays above zero; covers and crowns stay within 0 to 1.
    """
    doubt = canopy.doubt
    crowns = np.clip(crowns_of_canopy(canopy) + doubt.crown_transmittance_sd_frac * node[2], 0.0, 1.0)
    if not node[:2].any():
        return replace(canopy, crown_transmittance_frac=crowns)
    varied = canopy.varied(
        width_factor=np.exp(doubt.road_width_sd_frac * node[0]),
        cover_shift=doubt.cover_sd_frac * node[1],
        raster_cover_shift=float(doubt.raster_cover_sd_frac * node[1]),
    )
    return replace(varied, crown_transmittance_frac=crowns)


def other_shades(outlook: Outlook, canopy: Canopy, faces: arrays.Faces, stated: Stated) -> OtherShades:
    """Return the shade at the nodes of a canopy's doubt: one march each, from some points on a long drive.

    Other crowns are met where those as stated are, so that they need no march.
    """
    nodes = nodes_of(canopy)
    shades = tuple(_shades(outlook, canopy, faces, stated, nodes))
    return OtherShades(nodes, shades, canopy.doubt.rests_on)


def _shades(
    outlook: Outlook, canopy: Canopy, faces: arrays.Faces, stated: Stated, nodes: FloatArray
) -> Iterator[arrays.Shade]:
    suns = outlook.sun_azimuth_deg, outlook.sun_apparent_elevation_deg
    for_suns, for_sky = (sample_of(outlook.segments, outlook.points, m) for m in (SAMPLE, SKY_SAMPLE))
    for node in nodes:
        trees = canopy_at(canopy, node)
        if not node[:2].any():
            shade = shade_through(outlook, trees, stated.to_suns, stated.to_sky)
            yield shade.on(faces.normal, outlook.segments.heading_deg, suns)
        elif outlook.lookout is not None:
            wood = wood_at(outlook.lookout, trees)
            even, clear = _views(outlook, wood, faces, stated.shade, for_sky)
            yield arrays.Shade(*_beam(outlook, wood, stated.shade, for_suns), even, clear, clear)


def _beam(
    outlook: Outlook, wood: Wood, stated: arrays.Shade, sample: Sample | None
) -> tuple[FloatArray, FloatArray]:
    """Return what a wood leaves of the beam and around lit places, looked at from all points or some."""
    some = None if sample is None else sample.some
    seen = beam_left(outlook, wood.canopy, met_by_beam(outlook, wood, some), some)
    if sample is None:
        return seen
    # Of the beam a panel uses beam x lit^.3: its mean is met, not that of lit.
    every = stated.beam_frac, stated.beam_frac * stated.lit_frac**UNEVEN
    other = seen[0], seen[0] * seen[1] ** UNEVEN
    beam_frac, used_frac = (
        raised(one, one[:, sample.segment], there, sample) for one, there in zip(every, other, strict=True)
    )
    share = np.divide(used_frac, beam_frac, out=beam_frac.copy(), where=beam_frac > 0)
    return beam_frac, np.minimum(share ** (1 / UNEVEN), 1.0)


def _views(
    outlook: Outlook, wood: Wood, faces: arrays.Faces, stated: arrays.Shade, sample: Sample | None
) -> tuple[FloatArray, FloatArray]:
    """Return what a wood leaves each face of an even dome and a cloudless sky, from all points or a sample."""
    some = None if sample is None else sample.some
    sky = sky_left(outlook, wood.canopy, met_by_sky(outlook, wood, some), some)
    at = np.arange(outlook.segments.count) if sample is None else sample.segment
    suns = outlook.sun_azimuth_deg[:, at], outlook.sun_apparent_elevation_deg[:, at]
    even, clear = sky.views_frac(faces.normal[:, :, at], outlook.segments.heading_deg[at], suns)
    if sample is None:
        return even, clear
    return (
        raised(stated.sky_view_frac, stated.sky_view_frac[..., at], even, sample),
        raised(stated.clear_view_frac, stated.clear_view_frac[..., at], clear, sample),
    )
