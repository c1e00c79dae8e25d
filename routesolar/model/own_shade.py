"""A drive in a shade of one's own instead of that of trees and hills."""

from dataclasses import replace

from routesolar.model.scene import Scene, set_scene
from routesolar.physics.kernel_arrays import ShadeOnFaces
from routesolar.trip.fitting import check_shade_fits
from routesolar.trip.own_shade import OwnShade
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Surroundings, Terrain


def in_own_shade(segments: Segments, shade: OwnShade) -> Surroundings:
    """Return surroundings whose shade is told, not looked for.

    Raises:
        UsageError: the shade is of other segments.
    """
    check_shade_fits(segments, shade)
    canopy, terrain = Canopy.open(shade.count), Terrain.flat(shade.count)
    return Surroundings(canopy=canopy, terrain=terrain, shade=shade)


def told_shade(shade: OwnShade, roofs: ShadeOnFaces) -> ShadeOnFaces:
    """Return a shade of one's own on every face, times what roofs over the road leave."""
    beam, lit = shade.beam_transmittance_frac, shade.lit_frac
    return ShadeOnFaces(
        roofs.beam_frac * beam,
        roofs.lit_frac * (beam if lit is None else lit),
        roofs.sky_view_frac * shade.sky_view_frac,
        roofs.around_sun_frac * beam,
        roofs.clear_view_frac * shade.sky_view_frac,
    )


def set_own_scene(segments: Segments, rig: Rig, around: Surroundings, shade: OwnShade) -> Scene:
    """Return the scene of a drive in a shade of one's own; `around` says so too.

    Raises:
        UsageError: the shade is of other segments.
    """
    check_shade_fits(segments, shade)
    scene = set_scene(segments, rig, around.canopy, around.terrain)
    return replace(scene, shade=told_shade(shade, scene.shade), around=around, cast=None)
