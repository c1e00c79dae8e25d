"""Many variants of one drive, such as with a break here or there: each sun's shade is looked for once."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from routesolar.model.clear_sky import open_sky_on, sun_on
from routesolar.model.left import Shade
from routesolar.model.other_trees import NO_OTHERS
from routesolar.model.panels import faces_of
from routesolar.model.scene import Scene, run
from routesolar.model.shade import cast_shade
from routesolar.model.sky import sky_states
from routesolar.model.sweeping import BLOCK_POINTS, departing
from routesolar.physics.sun import sun_position
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Surroundings, Terrain

SAME_S = 1.0  # suns this near each other in time cast the same shade


@dataclass(frozen=True, slots=True, kw_only=True)
class Variants:
    """A drive's d variants, its departures, which leave at one time, among the same trees taken as certain.

    They differ by stops that last no time in some, so most segments are passed at few times: `few` is the shade
    at those, (u, n), `first` (u, n) a variant that has each, `which` (d, n) the one of them that a variant has.
    """

    segments: Segments
    rig: Rig
    canopy: Canopy
    terrain: Terrain
    few: Shade
    first: IntArray
    which: IntArray


def variants_of(segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain) -> Variants:
    """Return variants of a drive with their shade.

    Raises:
        UsageError: canopy or terrain are of other segments.
    """
    canopy = canopy.certain()
    if canopy.crown_transmittance_frac is not None:  # one departure time, one season
        canopy = replace(canopy, crown_transmittance_frac=canopy.crown_transmittance_frac[:1])
    first, which = distinct_times(segments)
    sun = sun_position(
        segments.middle_latitude_deg,
        segments.middle_longitude_deg,
        segments.middle_elevation_m,
        np.take_along_axis(segments.middle_utc_s, first, axis=0),
    )
    suns = sun.azimuth_deg, sun.apparent_elevation_deg
    few = cast_shade(segments, canopy, terrain, suns[0], suns[1], rig.roof_height_m)
    return Variants(
        segments=segments, rig=rig, canopy=canopy, terrain=terrain, few=few, first=first, which=which
    )


def distinct_times(segments: Segments) -> tuple[IntArray, IntArray]:
    """Return for each segment a departure for each of its u times, (u, n), and which of these each has, (d, n).

    What lasts no time has any; segments with fewer times repeat one.
    """
    lasting = segments.duration_s > 0
    latest_s = np.where(lasting, segments.start_utc_s, -np.inf).max(axis=0)
    latest_s = np.where(lasting.any(axis=0), latest_s, segments.start_utc_s.min(axis=0))
    start_s = np.where(lasting, segments.start_utc_s, latest_s)
    order = np.argsort(start_s, axis=0, kind="stable")
    fresh = np.diff(np.take_along_axis(start_s, order, axis=0), axis=0, prepend=start_s.min() - 1e9) > SAME_S
    number = np.cumsum(fresh, axis=0) - 1
    which = np.empty_like(number)
    np.put_along_axis(which, order, number, axis=0)
    shown = np.where(lasting, which, -1)  # what lasts no time does not stand for others
    first = np.stack(
        [(shown == np.minimum(time, number[-1])).argmax(axis=0) for time in range(int(number.max()) + 1)]
    )
    first = np.where(lasting.any(axis=0), first, segments.start_utc_s.argmin(axis=0))
    return first.astype(np.int64), which.astype(np.int64)


def variant_scenes(variants: Variants, heading_deg: FloatArray | None = None) -> Iterator[tuple[slice, Scene]]:
    """Yield scenes of some variants at a time, with which they are; on the spot they face as asked, (n,)."""
    segments = variants.segments
    step = max(1, BLOCK_POINTS // segments.count)
    for start in range(0, len(segments.departure_utc_s), step):
        some = slice(start, start + step)
        yield some, scene_of(variants, some, heading_deg)


def scene_of(variants: Variants, some: slice, heading_deg: FloatArray | None = None) -> Scene:
    """Return the scene of some variants; on the spot they face as asked, (n,)."""
    block, _ = departing(variants.segments, variants.canopy, some)
    return _scene(variants, block, variants.which[some], heading_deg)


def early_scene(variants: Variants, heading_deg: FloatArray | None = None) -> Scene:
    """Return a scene of one departure that passes every segment at its earliest time; all stops last there."""
    segments, first = variants.segments, variants.first[:1]
    early = replace(
        segments,
        start_utc_s=np.maximum.accumulate(np.take_along_axis(segments.start_utc_s, first, axis=0), axis=1),
        duration_s=np.take_along_axis(segments.duration_s, first, axis=0),
        departure_utc_s=segments.departure_utc_s[:1],
    )
    return _scene(variants, early, np.zeros_like(first), heading_deg)


def _scene(variants: Variants, segments: Segments, which: IntArray, heading_deg: FloatArray | None) -> Scene:
    few = variants.few
    beam, lit = (
        np.take_along_axis(values, which, axis=0) if len(values) > 1 else np.repeat(values, len(which), axis=0)
        for values in (few.beam_transmittance_frac, few.lit_frac)
    )
    cast = Shade(beam_transmittance_frac=beam, lit_frac=lit, sky=few.sky)
    turned = segments if heading_deg is None else replace(segments, heading_deg=heading_deg)
    sun = sun_on(segments)
    faces = faces_of(turned, variants.rig, sun)
    suns = sun.azimuth_deg, sun.apparent_elevation_deg
    return Scene(
        segments=turned,
        rig=variants.rig,
        sun=sun,
        open_sky=open_sky_on(segments, sun),
        faces=faces,
        shade=cast.on(faces.normal, segments.heading_deg, suns),  # the tables count from the way's headings
        around=Surroundings(canopy=variants.canopy, terrain=variants.terrain),
        others=NO_OTHERS,
        cast=cast,
    )


def expected_w(scene: Scene, sky: Sky) -> tuple[FloatArray, FloatArray]:
    """Return the watts expected in a scene and the air temperature in C, both (d, n)."""
    states = sky_states(sky, scene.segments, scene.sun.apparent_elevation_deg)
    watts = run(scene, [states]).expected_w[0]
    return watts, np.broadcast_to(states.air_c, watts.shape)
