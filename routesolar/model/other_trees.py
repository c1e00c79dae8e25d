"""The trees as they may be too: canopies at the nodes of their doubt, and the shade they cast."""

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.model.shade import (
    CrownsMet,
    Outlook,
    beam_at_points,
    crowns_of_canopy,
    left_and_used,
    mean_and_lit,
    met_by_beam,
    met_by_sky,
    shade_through,
    sky_left,
)
from routesolar.model.thinned import SAMPLE, SKY_SAMPLE, raised, sample_of
from routesolar.model.trees import Wood, wood_at
from routesolar.physics import kernel_arrays as arrays
from routesolar.physics.unsure_trees import tree_nodes
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.canopy_doubt import CanopyDoubt
from routesolar.trip.surroundings import Canopy


class OtherShades(NamedTuple):
    """The shade of other trees than stated: k nodes (k, 4) of physics.unsure_trees, and the shade at each.

    `rests_on` says what width, cover and crowns rest on, as the canopy's doubt has it.
    """

    nodes: FloatArray
    shades: tuple[arrays.ShadeOnFaces, ...]
    rests_on: tuple[str, str, str]


NO_OTHERS = OtherShades(np.zeros((0, 4)), (), CanopyDoubt.none().rests_on)


class AsStated(NamedTuple):
    """The crowns met among the trees as stated on the way to suns and sky, and the shade they cast on faces."""

    to_suns: CrownsMet
    to_sky: CrownsMet
    shade: arrays.ShadeOnFaces


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
    standing = canopy.standing_transmittance_frac
    if standing is not None:
        standing = np.clip(standing + doubt.crown_transmittance_sd_frac * node[2], 0.0, 1.0)
    trees = replace(
        canopy,
        crown_transmittance_frac=np.clip(crowns, 0.0, 1.0),
        standing_transmittance_frac=standing,
        crowns_factor=float(np.exp(doubt.heights_sd_frac * node[1])),
    )
    if not _moves_stands(doubt, node):
        return trees
    return trees.varied(
        width_factor=np.exp(doubt.road_width_sd_frac * node[0]),
        cover_shift=doubt.cover_sd_frac * node[1],
        raster_cover_shift=float(doubt.raster_cover_sd_frac * node[1]),
    )


def uneven_at(shade: arrays.ShadeOnFaces, canopy: Canopy, node: FloatArray) -> arrays.ShadeOnFaces:
    """Return a shade that costs a panel as at a node: the exponent of T that uneven light costs is scaled."""
    factor = max(0.0, 1.0 + canopy.doubt.uneven_sd_frac * node[3])
    return shade if factor == 1.0 else shade._replace(lit_frac=shade.lit_frac**factor)


def _moves_stands(doubt: CanopyDoubt, node: FloatArray) -> bool:
    """Return whether other crowns are met at a node; else as many, or all by one factor more."""
    return bool(node[0] != 0 or (node[1] != 0 and doubt.moves_cover))


def other_shades(outlook: Outlook, canopy: Canopy, faces: arrays.Faces, stated: AsStated) -> OtherShades:
    """Return the shade at the nodes of a canopy's doubt: one march each, from some points on a long drive.

    Where the same crowns are met as stated, or by one factor more, no march is needed.
    """
    nodes = nodes_of(canopy)
    shades = tuple(_shades(outlook, canopy, faces, stated, nodes))
    return OtherShades(nodes, shades, canopy.doubt.rests_on)


def _shades(
    outlook: Outlook, canopy: Canopy, faces: arrays.Faces, stated: AsStated, nodes: FloatArray
) -> Iterator[arrays.ShadeOnFaces]:
    if not len(nodes):
        return
    suns = outlook.sun_azimuth_deg, outlook.sun_apparent_elevation_deg
    looks = None if outlook.lookout is None else _Looks(outlook, canopy, faces, stated)
    for node in nodes:
        trees = canopy_at(canopy, node)
        if not node[:3].any():
            yield uneven_at(stated.shade, canopy, node)
        elif looks is None or outlook.lookout is None or not _moves_stands(canopy.doubt, node):
            shade = shade_through(outlook, trees, stated.to_suns, stated.to_sky)
            yield shade.on(faces.normal, outlook.segments.heading_deg, suns)
        else:
            wood = wood_at(outlook.lookout, trees)
            even, clear = looks.views(wood)
            yield arrays.ShadeOnFaces(*looks.beam(wood), even, clear, clear)


class _Looks:
    """What woods leave of the beam and of the sky along a drive, looked at from all points or some.

    What the trees as stated leave is worked out once for all nodes.
    """

    def __init__(self, outlook: Outlook, canopy: Canopy, faces: arrays.Faces, stated: AsStated) -> None:
        self.outlook, self.faces, self.stated = outlook, faces, stated
        segments, points = outlook.segments, outlook.points
        beam_frac = beam_at_points(outlook, canopy, stated.to_suns)
        self.beams_as_stated = left_and_used(beam_frac)
        self.for_suns = sample_of(segments, points, _light(outlook, beam_frac), SAMPLE)
        self.for_sky = sample_of(segments, points, np.ones(len(points.segment)), SKY_SAMPLE)
        if self.for_sky is not None:
            some = self.for_sky.some
            self.views_as_stated = self._views_from(canopy, stated.to_sky.at(some), some)

    def beam(self, wood: Wood) -> tuple[FloatArray, FloatArray]:
        """Return what a wood leaves of the beam and around lit places, both (d, n)."""
        sample, mean = self.for_suns, self.outlook.points.mean
        some = None if sample is None else sample.some
        left = beam_at_points(self.outlook, wood.canopy, met_by_beam(self.outlook, wood, some), some)
        beams = left_and_used(left)
        if sample is None:
            return mean_and_lit(*(mean(there) for there in beams))
        pairs = zip(self.beams_as_stated, beams, strict=True)
        return mean_and_lit(
            *(mean(raised(one, one[:, some], there, sample, sample.of_point)) for one, there in pairs)
        )

    def views(self, wood: Wood) -> tuple[FloatArray, FloatArray]:
        """Return what a wood leaves each face of an even dome and of a cloudless sky, both (f, d or 1, n)."""
        sample = self.for_sky
        some = None if sample is None else sample.some
        even, clear = self._views_from(wood.canopy, met_by_sky(self.outlook, wood, some), some)
        if sample is None:
            return even, clear
        of = sample.of_point[self.outlook.points.first]
        shade, (even_stated, clear_stated) = self.stated.shade, self.views_as_stated
        return (
            raised(shade.sky_view_frac, even_stated, even, sample, of),
            raised(shade.clear_view_frac, clear_stated, clear, sample, of),
        )

    def _views_from(
        self, canopy: Canopy, met: CrownsMet, some: IntArray | None
    ) -> tuple[FloatArray, FloatArray]:
        """Return what trees leave each face of both skies, on all segments or at some points."""
        outlook, points = self.outlook, self.outlook.points
        at = np.arange(outlook.segments.count) if some is None else points.segment[some]
        suns = outlook.sun_azimuth_deg[:, at], outlook.sun_apparent_elevation_deg[:, at]
        sky = sky_left(outlook, canopy, met, some)
        return sky.views_frac(self.faces.normal[:, :, at], outlook.segments.heading_deg[at], suns)


def _light(outlook: Outlook, beam_frac: FloatArray) -> FloatArray:
    """Return how much light comes to each point, (p,), over the departures; a tenth of the mean at least."""
    height_deg = outlook.sun_apparent_elevation_deg[:, outlook.points.segment]
    light: FloatArray = np.nan_to_num(beam_frac * np.sin(np.radians(np.maximum(height_deg, 0.0)))).mean(axis=0)
    return light + max(0.1 * float(light.mean()), 1e-9)
