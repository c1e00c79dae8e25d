"""A drive among trees that are being changed, for now: what they leave of the sky is looked at here and there.

The beam is looked at from all points, as in `scenes_of`. What is left of the sky changes little along a piece
of road that heads alike among the same trees, and the march to it takes most of the time. Halts are looked
at each. Energies are within 1 % of those of `scenes_of`, along plain woods within a thousandth; a test looks.
"""

from itertools import pairwise

import numpy as np

from routesolar.model.other_trees import NO_OTHERS
from routesolar.model.points import Points
from routesolar.model.scene import Light, Scene
from routesolar.model.shade import (
    Vista,
    beam_left,
    met_by_beam,
    met_by_sky,
    outlook_on,
    sky_left,
)
from routesolar.model.standing import Beside
from routesolar.model.trees import held, lookout_along, wood_at
from routesolar.physics import kernel_arrays as arrays
from routesolar.trip.arrays import IntArray
from routesolar.trip.fitting import check_canopy_fits, check_terrain_fits
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Surroundings, Terrain

LOOKS = 300  # at the sky, on the way
HEADINGS = 16  # told apart


def scene_at_a_glance(
    points: Points, light: Light, segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain
) -> Scene:
    """Return the scene of a drive of one departure, the sky looked at from some segments only.

    `points` and `light` are those of the drive. The trees are taken as exactly those stated.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    check_canopy_fits(segments, canopy)
    check_terrain_fits(segments, terrain)
    sun, height_m = light.sun, rig.roof_height_m
    suns = sun.azimuth_deg, sun.apparent_elevation_deg
    wood = held(wood_at(lookout_along(segments, points, canopy, terrain, height_m), canopy))
    looked, of = looked_from(segments, canopy)
    last = np.append(points.first[1:], len(points.segment)) - 1
    some = (points.first[looked] + last[looked]) // 2
    vista = Vista(points, Beside.of(canopy, terrain), wood, met_by_sky(points, wood, some))
    outlook = outlook_on(vista, segments, canopy, terrain, *suns, height_m)
    (faces,) = light.faces
    left = sky_left(outlook, canopy, vista.to_sky, some)
    there = tuple(values[:, looked] for values in suns)
    views = left.views_frac(faces.normal[:, :, looked], segments.heading_deg[looked], (there[0], there[1]))
    even, clear = (view[..., of] for view in views)
    return Scene(
        segments=segments,
        rig=rig,
        sun=sun,
        open_sky=light.open_sky,
        faces=faces,
        shade=arrays.ShadeOnFaces(*beam_left(outlook, canopy, met_by_beam(outlook, wood)), even, clear, clear),
        around=Surroundings(canopy=canopy, terrain=terrain),
        others=NO_OTHERS,
        cast=None,
    )


def looked_from(segments: Segments, canopy: Canopy) -> tuple[IntArray, IntArray]:
    """Return the segments to look from, (m,), and for every segment which of these stands for it, (n,).

    Raises:
        UsageError: the canopy is of other segments.
    """
    check_canopy_fits(segments, canopy)
    apart = max(1, round(segments.count / LOOKS))
    alike = _alike(segments, canopy)
    order = np.argsort(alike, kind="stable")
    starts = np.flatnonzero(np.diff(alike[order], prepend=-1))
    looked: list[int] = []
    of = np.empty(segments.count, dtype=np.int64)
    for start, end in pairwise([*starts.tolist(), segments.count]):
        for first in range(start, end, apart):
            group = order[first : min(first + apart, end)]
            of[group] = len(looked)
            looked.append(int(group[len(group) // 2]))
    return np.array(looked, dtype=np.int64), of


def _alike(segments: Segments, canopy: Canopy) -> IntArray:
    """Return a number for each segment, (n,), the same for a halt, and where trees and heading are alike."""
    said = canopy.uniform_cover_frac, canopy.uniform_height_m, canopy.road_width_m, canopy.kind, segments.roofed
    trees = np.nan_to_num(np.stack(said), nan=-1.0)
    stretch = np.cumsum(np.any(np.diff(trees, axis=1, prepend=trees[:, :1]) != 0, axis=0))
    heads = np.where(segments.stopped, 0, np.floor(segments.heading_deg % 360 / 360 * HEADINGS))
    halt = np.where(segments.stopped, segments.leg, -1)
    number = ((halt + 1) * (stretch.max() + 1) + stretch) * (HEADINGS + 1) + heads
    _, alike = np.unique(number, return_inverse=True)
    return np.asarray(alike, dtype=np.int64).reshape(-1)
