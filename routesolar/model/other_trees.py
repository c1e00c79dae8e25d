"""The trees as they may be too: canopies at the nodes of their doubt, and the shade they cast."""

from collections.abc import Iterator, Sequence
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
from routesolar.wanted import in_steps


class OtherShades(NamedTuple):
    """The shade of other trees than stated: k nodes (k, 4) of physics.unsure_trees, and the shade at each.

    `rests_on` says what width, cover and crowns rest on, as the canopy's doubt has it.
    """

    nodes: FloatArray
    shades: tuple[arrays.ShadeOnFaces, ...]
    rests_on: tuple[str, str, str]


NO_OTHERS = OtherShades(np.zeros((0, 4)), (), CanopyDoubt.none().rests_on)


class AsStated(NamedTuple):
    """The crowns met among the trees as stated on the way to suns and sky, and the shade they cast.

    `shades` are those on the faces of each rig.
    """

    to_suns: CrownsMet
    to_sky: CrownsMet
    shades: tuple[arrays.ShadeOnFaces, ...]


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


def other_shades(
    outlook: Outlook, canopy: Canopy, normals: Sequence[FloatArray], stated: AsStated
) -> tuple[OtherShades, ...]:
    """Return the shade at the nodes of a canopy's doubt on faces of the normals of each rig, (f, d or 1, n, 3).

    One march each for all rigs, from some points on a long drive. Where the same crowns are met as stated, or
    by one factor more, no march is needed.
    """
    nodes = nodes_of(canopy)
    at_nodes = list(_shades(outlook, canopy, normals, stated, nodes))
    return tuple(
        OtherShades(nodes, tuple(shades[rig] for shades in at_nodes), canopy.doubt.rests_on)
        for rig in range(len(normals))
    )


def _shades(
    outlook: Outlook, canopy: Canopy, normals: Sequence[FloatArray], stated: AsStated, nodes: FloatArray
) -> Iterator[list[arrays.ShadeOnFaces]]:
    if not len(nodes):
        return
    suns = outlook.sun_azimuth_deg, outlook.sun_apparent_elevation_deg
    looks = None if outlook.lookout is None else _Looks(outlook, canopy, normals, stated)
    for node in in_steps(list(nodes)):
        trees = canopy_at(canopy, node)
        if not node[:3].any():
            yield [uneven_at(shade, canopy, node) for shade in stated.shades]
        elif looks is None or outlook.lookout is None or not _moves_stands(canopy.doubt, node):
            shade = shade_through(outlook, trees, stated.to_suns, stated.to_sky)
            yield [shade.on(each, outlook.segments.heading_deg, suns) for each in normals]
        else:
            wood = wood_at(outlook.lookout, trees)
            beam = looks.beam(wood)
            yield [arrays.ShadeOnFaces(*beam, even, clear, clear) for even, clear in looks.views(wood)]


class _Looks:
    """What woods leave of the beam and of the sky along a drive, looked at from all points or some.

    What the trees as stated leave is worked out once for all nodes.
    """

    def __init__(
        self, outlook: Outlook, canopy: Canopy, normals: Sequence[FloatArray], stated: AsStated
    ) -> None:
        self.outlook, self.normals, self.stated = outlook, normals, stated
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

    def views(self, wood: Wood) -> list[tuple[FloatArray, FloatArray]]:
        """Return what a wood leaves each rig of an even dome and a cloudless sky, both (f, d or 1, n)."""
        sample = self.for_sky
        some = None if sample is None else sample.some
        views = self._views_from(wood.canopy, met_by_sky(self.outlook.points, wood, some), some)
        if sample is None:
            return views
        of = sample.of_point[self.outlook.points.first]
        each = zip(self.stated.shades, self.views_as_stated, views, strict=True)
        return [
            (
                raised(shade.sky_view_frac, even_stated, even, sample, of),
                raised(shade.clear_view_frac, clear_stated, clear, sample, of),
            )
            for shade, (even_stated, clear_stated), (even, clear) in each
        ]

    def _views_from(
        self, canopy: Canopy, met: CrownsMet, some: IntArray | None
    ) -> list[tuple[FloatArray, FloatArray]]:
        """Return what trees leave each rig's faces of both skies, on all segments or at some points."""
        outlook, points = self.outlook, self.outlook.points
        at = np.arange(outlook.segments.count) if some is None else points.segment[some]
        suns = outlook.sun_azimuth_deg[:, at], outlook.sun_apparent_elevation_deg[:, at]
        left = sky_left(outlook, canopy, met, some)
        heading_deg = outlook.segments.heading_deg[at]
        return [left.views_frac(normal[:, :, at], heading_deg, suns) for normal in self.normals]


def _light(outlook: Outlook, beam_frac: FloatArray) -> FloatArray:
    """Return how much light comes to each point, (p,), over the departures; a tenth of the mean at least."""
    height_deg = outlook.points.along(outlook.sun_apparent_elevation_deg)
    light: FloatArray = np.nan_to_num(beam_frac * np.sin(np.radians(np.maximum(height_deg, 0.0)))).mean(axis=0)
    return light + max(0.1 * float(light.mean()), 1e-9)
