"""The trees as they may be too: canopies at the nodes of their doubt, and the shade they cast."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.model.shade import (
    CrownsMet,
    Outlook,
    Shade,
    beam_left,
    crowns_of_canopy,
    met_by_beam,
    met_by_sky,
    shade_through,
    sky_left,
)
from routesolar.model.thinned import Sample, raised, sample_of
from routesolar.model.trees import wood_at
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
    segments = outlook.segments
    suns = outlook.sun_azimuth_deg, outlook.sun_apparent_elevation_deg
    sample = sample_of(segments, outlook.points) if nodes[:, :2].any() else None
    for node in nodes:
        trees = canopy_at(canopy, node)
        if not node[:2].any():
            shade = shade_through(outlook, trees, stated.to_suns, stated.to_sky)
            yield shade.on(faces.normal, segments.heading_deg, suns)
        elif outlook.lookout is not None:
            wood = wood_at(outlook.lookout, trees)
            some = None if sample is None else sample.some
            beam, lit = beam_left(outlook, trees, met_by_beam(outlook, wood, some), some)
            sky, season = sky_left(outlook, trees, met_by_sky(outlook, wood, some), some)
            seen = Shade(beam_transmittance_frac=beam, lit_frac=lit, sky_transmittance_frac=sky, season=season)
            if sample is None:
                yield seen.on(faces.normal, segments.heading_deg, suns)
            else:
                at = sample.segment
                there = seen.on(
                    faces.normal[:, :, at], segments.heading_deg[at], (suns[0][:, at], suns[1][:, at])
                )
                yield _raised(stated.shade, there, sample)


def _raised(stated: arrays.Shade, seen: arrays.Shade, sample: Sample) -> arrays.Shade:
    """Return the shade all along, from that as stated and what is seen of others at a sample."""
    return arrays.Shade(
        *(
            raised(every, every[..., sample.segment], other, sample)
            for every, other in zip(stated, seen, strict=True)
        )
    )
