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
    """The shade of other trees than stated: k nodes (k, 4) of physics.unsure_trees, and the shade at each.

    `rests_on` says what width, cover and crowns rest on, as the canopy's doubt has it.
    """

    nodes: FloatArray
    shades: tuple[arrays.Shade, ...]
    rests_on: tuple[str, str, str]


NO_OTHERS = OtherShades(np.zeros((0, 4)), (), CanopyDoubt.none().rests_on)


class Stated(NamedTuple):
    """The crowns met among the trees as stated on the way to suns and sky, and the shade they cast on faces."""

    to_suns: CrownsMet
    to_sky: CrownsMet
    shade: arrays.Shade


def nodes_of(canopy: Canopy) -> FloatArray:
    """Return the nodes of physics.unsure_trees for a canopy, (k, 4); none where no tree is in doubt."""
    return tree_nodes((False, False, False, False) if canopy.is_open else canopy.doubt.causes)


def canopy_at(canopy: Canopy, node: FloatArray) -> Canopy:
    """Return the canopy with width, cover and crowns so many standard deviations above what is stated, (4,).

    The width is log-normal, so that it stays above zero, as are the crowns met of height rasters; covers and
    crowns stay within 0 to 1. `uneven_at` has the fourth.
    """
    doubt = canopy.doubt
    crowns = crowns_of_canopy(canopy) + doubt.crown_transmittance_sd_frac * node[2]
    trees = replace(
        canopy,
        crown_transmittance_frac=np.clip(crowns, 0.0, 1.0),
        crowns_factor=float(np.exp(doubt.heights_sd_frac * node[1])),
    )
    if not _moves_stands(doubt, node):
        return trees
    return trees.varied(
        width_factor=np.exp(doubt.road_width_sd_frac * node[0]),
        cover_shift=doubt.cover_sd_frac * node[1],
        raster_cover_shift=float(doubt.raster_cover_sd_frac * node[1]),
    )


def uneven_at(shade: arrays.Shade, canopy: Canopy, node: FloatArray) -> arrays.Shade:
    """Return a shade that costs a panel as at a node: the exponent of T that uneven light costs is scaled."""
    factor = max(0.0, 1.0 + canopy.doubt.uneven_sd_frac * node[3])
    return shade if factor == 1.0 else shade._replace(lit_frac=shade.lit_frac**factor)


def _moves_stands(doubt: CanopyDoubt, node: FloatArray) -> bool:
    """Return whether other crowns are met at a node; else as many, or all by one factor more."""
    return bool(node[0] != 0 or (node[1] != 0 and doubt.moves_cover))


def other_shades(outlook: Outlook, canopy: Canopy, faces: arrays.Faces, stated: Stated) -> OtherShades:
    """Return the shade at the nodes of a canopy's doubt: one march each, from some points on a long drive.

    Where the same crowns are met as stated, or by one factor more, no march is needed.
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
        if not node[:3].any():
            yield uneven_at(stated.shade, canopy, node)
        elif not _moves_stands(canopy.doubt, node):
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
