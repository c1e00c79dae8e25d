"""A drive under its sun and behind its trees, ready for any sky: prepared once, run through the chain often."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from routesolar.model.clear_sky import open_sky_on, sun_on
from routesolar.model.left import Shade
from routesolar.model.other_trees import NO_OTHERS, AsStated, OtherShades, canopy_at, other_shades, uneven_at
from routesolar.model.panels import faces_of
from routesolar.model.shade import Vista, cast_shade, crowns_met, outlook_on, shade_through, vista_along
from routesolar.model.standing import indoors_notes
from routesolar.model.weather import weather_warnings
from routesolar.physics import kernel_arrays as arrays
from routesolar.physics.kernel import run_chain
from routesolar.physics.sun import SunPosition
from routesolar.trip.arrays import FloatArray
from routesolar.trip.fitting import check_states_fit
from routesolar.trip.noun import Noun
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Surroundings, Terrain
from routesolar.wanted import share_of_work, still_wanted

STATED_SHARE = 0.4  # of the time that trees take; the rest is that of other trees


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Scene(Noun):
    """Everything between the sun and the panel that does not depend on the clouds; `around` cast the shade.

    `cast` is the shade in every direction, for further faces; None where it was not looked for all along here.
    """

    segments: Segments
    rig: Rig
    sun: SunPosition
    open_sky: arrays.OpenSky
    faces: arrays.Faces
    shade: arrays.ShadeOnFaces
    around: Surroundings
    others: OtherShades
    cast: Shade | None


class Light(NamedTuple):
    """What comes to a drive before any shade: sun and open sky, and the faces of each rig's panels."""

    sun: SunPosition
    open_sky: arrays.OpenSky
    faces: tuple[arrays.Faces, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Power(Noun):
    """Watts at the battery terminals for s skies, (s, d, n): in the two sky states and expected.

    The first panel's plane and cell are the first sky's, (d, n).
    """

    unobscured_w: FloatArray
    obscured_w: FloatArray
    expected_w: FloatArray
    plane_wm2: FloatArray
    cell_c: FloatArray


def set_scene(segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain) -> Scene:
    """Return the scene of a timed drive: sun, truly clear sky, panel faces and shade.

    Trees are looked at once as stated, and once at each node of their doubt; `canopy.certain()` has none.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    (scene,) = set_scenes(segments, (rig,), canopy, terrain)
    return scene


def set_scenes(segments: Segments, rigs: Sequence[Rig], canopy: Canopy, terrain: Terrain) -> tuple[Scene, ...]:
    """Return the scene of a timed drive for each of several rigs, as `set_scene` does for one.

    Trees are looked at once for all rigs whose panels are as high above the road, and what they leave to panels
    once for all that face the same way.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    scenes: dict[int, Scene] = {}
    for height_m in dict.fromkeys(rig.roof_height_m for rig in rigs):
        there = [number for number, rig in enumerate(rigs) if rig.roof_height_m == height_m]
        vista = vista_along(segments, canopy, terrain, height_m)
        alike = scenes_of(vista, segments, [rigs[number] for number in there], canopy, terrain)
        scenes |= dict(zip(there, alike, strict=True))
    return tuple(scenes[number] for number in range(len(rigs)))


def light_on(segments: Segments, rigs: Sequence[Rig]) -> Light:
    """Return the light on a drive and the faces of each rig's panels."""
    sun = sun_on(segments)
    return Light(sun, open_sky_on(segments, sun), tuple(faces_of(segments, rig, sun) for rig in rigs))


def scenes_of(
    vista: Vista,
    segments: Segments,
    rigs: Sequence[Rig],
    canopy: Canopy,
    terrain: Terrain,
    light: Light | None = None,
) -> list[Scene]:
    """Return the scenes of rigs of one height, of what is seen along the same drive whenever it leaves.

    `light` is that of the drive and the rigs where it is known already.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    sun, open_sky, faces = light or light_on(segments, rigs)
    around = Surroundings(canopy=canopy, terrain=terrain)
    normals, height_m = [each.normal for each in faces], rigs[0].roof_height_m
    cast, shaded = _shaded(vista, segments, canopy, terrain, sun, height_m, normals)
    return [
        Scene(
            segments=segments,
            rig=rig,
            sun=sun,
            open_sky=open_sky,
            faces=each,
            shade=shade,
            around=around,
            others=others,
            cast=cast,
        )
        for rig, each, (shade, others) in zip(rigs, faces, shaded, strict=True)
    ]


def _shaded(
    vista: Vista,
    segments: Segments,
    canopy: Canopy,
    terrain: Terrain,
    sun: SunPosition,
    panel_height_m: float,
    normals: Sequence[FloatArray],
) -> tuple[Shade, list[tuple[arrays.ShadeOnFaces, OtherShades]]]:
    """Return the shade at a height, and for each rig's normals what it leaves them, and other trees would."""
    suns = sun.azimuth_deg, sun.apparent_elevation_deg
    outlook = outlook_on(vista, segments, canopy, terrain, *suns, panel_height_m)
    with share_of_work(0.0, STATED_SHARE / 2):
        met = crowns_met(outlook, vista), vista.to_sky
        cast = shade_through(outlook, canopy, *met)
    told_apart: list[FloatArray] = []
    which = []
    for each in normals:
        alike = [number for number, one in enumerate(told_apart) if np.array_equal(one, each)]
        which.append(alike[0] if alike else len(told_apart))
        told_apart += [] if alike else [each]
    with share_of_work(STATED_SHARE / 2, STATED_SHARE):
        shades = [cast.on(each, segments.heading_deg, suns) for each in told_apart]
    with share_of_work(STATED_SHARE, 1.0):
        others = other_shades(outlook, canopy, told_apart, AsStated(*met, tuple(shades)))
    return cast, [(shades[number], others[number]) for number in which]


def with_panel(scene: Scene, panel: Panel) -> Scene:
    """Return the same scene with a panel more on the rig, taken as certain; no tree is looked at again.

    Raises:
        ValueError: the scene does not know its shade in every direction.
    """
    if scene.cast is None:
        raise ValueError("the scene does not know its shade in every direction")
    rig = replace(scene.rig, panels=(*scene.rig.panels, panel))
    faces = faces_of(scene.segments, rig, scene.sun)
    suns = scene.sun.azimuth_deg, scene.sun.apparent_elevation_deg
    shade = scene.cast.on(faces.normal, scene.segments.heading_deg, suns)
    return replace(scene, rig=rig, faces=faces, shade=shade, others=NO_OTHERS)


def unshaded(scene: Scene) -> Scene:
    """Return the same scene without trees, terrain or roofs."""
    whole = np.ones_like(scene.shade.beam_frac)
    open_view = np.ones((len(scene.faces.cooling), 1, scene.segments.count))
    return replace(scene, shade=arrays.ShadeOnFaces(whole, whole, open_view, open_view, open_view))


def under_haze_of(scene: Scene, latitude_deg: float, longitude_deg: float) -> Scene:
    """Return the same scene with the haze of one place all along, thinned by the road's own height."""
    return replace(scene, open_sky=open_sky_on(scene.segments, scene.sun, (latitude_deg, longitude_deg)))


def behind_hills(scene: Scene, *, with_buildings: bool = True) -> Scene:
    """Return the same scene with its hills, roofs and, if asked for, buildings, but without trees."""
    terrain = scene.around.terrain
    if not with_buildings:
        terrain = replace(terrain, buildings=None)
    canopy = replace(Canopy.open(scene.segments.count), lane_offset_m=scene.around.canopy.lane_offset_m)
    if terrain.is_open and not scene.segments.roofed.any():
        return unshaded(scene)
    return replace(scene, shade=_shade_on(scene.segments, scene.rig, scene.faces, canopy, terrain, scene.sun))


def reshaded_at_end(scene: Scene, canopy: Canopy, terrain: Terrain) -> Scene:
    """Return the same scene with its last segments behind other trees and terrain, as many as these have."""
    count = len(canopy.uniform_cover_frac)
    last = scene.segments.last(count)
    faces = scene.faces._replace(normal=np.ascontiguousarray(scene.faces.normal[:, :, -count:]))
    sun = sun_on(last)

    def mended(shade: arrays.ShadeOnFaces, node: FloatArray) -> arrays.ShadeOnFaces:
        end = _shade_on(last, scene.rig, faces, canopy_at(canopy, node), terrain, sun)
        return _joined(shade, uneven_at(end, canopy, node), count)

    others = scene.others
    shades = tuple(mended(shade, node) for node, shade in zip(others.nodes, others.shades, strict=True))
    return replace(
        scene, shade=mended(scene.shade, np.zeros(4)), others=others._replace(shades=shades), cast=None
    )


def _joined(shade: arrays.ShadeOnFaces, end: arrays.ShadeOnFaces, count: int) -> arrays.ShadeOnFaces:
    """Return a shade with that of its last segments, so many, replaced."""
    before = arrays.ShadeOnFaces(*(field[..., :-count] for field in shade))
    return arrays.ShadeOnFaces(*(_end_to_end(*fields) for fields in zip(before, end, strict=True)))


def _end_to_end(before: FloatArray, after: FloatArray) -> FloatArray:
    """Return fields joined along the way, the last axis; other axes of length 1 are spread where needed."""
    shape = np.broadcast_shapes(before.shape[:-1], after.shape[:-1])
    parts = [np.broadcast_to(part, (*shape, part.shape[-1])) for part in (before, after)]
    return np.concatenate(parts, axis=-1)


def among_other_trees(scene: Scene) -> Iterator[Scene]:
    """Return the same scene among each of its other trees."""
    return (replace(scene, shade=shade) for shade in scene.others.shades)


def run(scene: Scene, skies: Sequence[SkyStates], chain: arrays.Chain | None = None) -> Power:
    """Return the power of every sky, departure and segment; `chain` defaults to the rig's own.

    Raises:
        UsageError: a sky's states are of another drive.
    """
    still_wanted()
    segments = scene.segments
    states = _stacked(skies, segments.duration_s.shape)
    drive = arrays.Drive(segments.heading_deg, segments.speed_mps, segments.duration_s)
    chain = chain or chain_of(scene.rig)
    return Power(**run_chain(drive, scene.open_sky, scene.shade, scene.faces, states, chain)._asdict())


def chain_of(rig: Rig) -> arrays.Chain:
    """Return the rig's electrical chain as numbers."""
    load_frac, efficiency_frac = np.array(rig.controller.curve, dtype=np.float64).T
    return arrays.Chain(
        albedo_frac=rig.albedo_frac,
        reflection_weight=1.0,
        weak_light_weight=1.0,
        temperature_weight=1.0,
        age_weight=1.0,
        uneven_weight=1.0,
        soiling_frac=rig.soiling_frac,
        mismatch_frac=rig.mismatch_frac,
        wiring_frac=rig.wiring_frac,
        max_input_w=rig.input_limit_w,
        start_up_w=rig.controller.start_up_w,
        full_load_w=rig.full_load_w,
        curve_load_frac=np.ascontiguousarray(load_frac),
        curve_efficiency_frac=np.ascontiguousarray(efficiency_frac),
    )


def warnings_of(segments: Segments, canopy: Canopy, terrain: Terrain, sky: Sky) -> tuple[str, ...]:
    """Return the warnings of everything that a drive rests on, each once."""
    weather = weather_warnings(sky.weather, segments) if sky.weather else ()
    around = *canopy.warnings, *terrain.warnings, *indoors_notes(segments, terrain)
    return tuple(dict.fromkeys((*segments.warnings, *around, *weather)))


def clear_states(like: SkyStates) -> SkyStates:
    """Return a sky without any cloud, with the air of another."""
    one, none = np.asarray(1.0), np.asarray(0.0)
    return replace(
        like,
        sun_out_prob=one,
        unobscured_index=one,
        unobscured_beam_index=one,
        obscured_index=one,
        unobscured_sd=none,
        obscured_sd=none,
    )


def _shade_on(
    segments: Segments, rig: Rig, faces: arrays.Faces, canopy: Canopy, terrain: Terrain, sun: SunPosition
) -> arrays.ShadeOnFaces:
    """Return what trees and terrain leave of the beam and of each face's own dome."""
    suns = sun.azimuth_deg, sun.apparent_elevation_deg
    shade: Shade = cast_shade(segments, canopy, terrain, *suns, rig.roof_height_m)
    return shade.on(faces.normal, segments.heading_deg, suns)


def _stacked(skies: Sequence[SkyStates], drive: tuple[int, ...]) -> arrays.States:
    """Return the skies' states as the kernel takes them: axes of length 1 where nothing varies."""
    for states in skies:
        check_states_fit(states, drive)
    return arrays.States(*(_stack([getattr(sky, name) for sky in skies]) for name in arrays.States._fields))


def _stack(fields: Sequence[FloatArray]) -> FloatArray:
    """Return (s or 1, d or 1, n or 1) from fields of skies that broadcast against (d, n)."""
    if all(field is fields[0] or _same_number(field, fields[0]) for field in fields):
        fields = fields[:1]
    shape = np.broadcast_shapes((1, 1), *(field.shape for field in fields))
    if len(fields) == 1:
        return np.asarray(fields[0], dtype=np.float64).reshape(1, *shape)
    stacked = np.empty((len(fields), *shape))
    for place, field in zip(stacked, fields, strict=True):
        place[:] = field
    return stacked


def _same_number(one: FloatArray, other: FloatArray) -> bool:
    """Tell whether two fields are one number each, the same or both unknown."""
    return one.size == other.size == 1 and np.array_equal(one, other, equal_nan=True)
