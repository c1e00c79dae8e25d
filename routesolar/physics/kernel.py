"""The whole chain from sky to battery terminals, fused over departures, segments, panel faces and skies.

The loop reads like the chain: open-sky irradiance of a sky state, the panel's plane behind the trees,
reflection, weak light, cell temperature, DC power, age, partial shade, soiling, mismatch, wiring,
controller. Each sky has two states, sun out and sun hidden; both run through the whole chain because the
controller's limit and shade are not linear, and the cell carries one temperature, lagged, from the
irradiance both would give.
"""

from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.cells import (
    DRIVING_TIME_CONSTANT_S,
    PARKED_TIME_CONSTANT_S,
    RATED_C,
    air_speed_mps,
    cell_temperature_c,
    dc_power_w,
    lag_fracs,
    lagged_c,
    weak_light_frac,
)
from routesolar.physics.charging import controller_output_w
from routesolar.physics.compiled import compiled
from routesolar.physics.kernel_arrays import Chain, Drive, Faces, OpenSky, ShadeOnFaces, States, Watts
from routesolar.physics.partial_shade import even_frac
from routesolar.physics.sky import (
    LOWEST_COS_ZENITH,
    beam_modifier,
    clear_sky_wm2,
    extraterrestrial_wm2,
    hay_davies,
)
from routesolar.physics.threads import over_departures


class Lit(NamedTuple):
    """W/m2 on a face: what makes power with the sun out and hidden, and the means that heat it and meet it."""

    unobscured_wm2: float
    obscured_wm2: float
    heat_wm2: float
    plane_wm2: float


class View(NamedTuple):
    """What one face makes of one sun, the same for every sky."""

    cos_incidence: float
    beam_modifier: float
    sin_elevation: float
    extra_wm2: float
    cos_tilt: float
    beam_frac: float
    sky_frac: float
    around_sun_frac: float
    clear_sky_frac: float
    sky_modifier: float
    ground_modifier: float
    even_beam_frac: float
    box_beam_frac: float
    even_dome_frac: float


class Diffuse(NamedTuple):
    """Diffuse W/m2 on the level, and which share of it comes as a cloudless sky's does."""

    level_wm2: float
    clear_share: float


@compiled
def plane_of_array(
    view: View, dni_wm2: float, diffuse: Diffuse, albedo_frac: float
) -> tuple[float, float, float, float]:
    """Return beam, circumsolar, isotropic and ground irradiance (W/m2) on a shaded plane.

    Hay & Davies (1980): the share A = dni / extra of the diffuse comes from around the sun, the rest from the
    whole dome. That says how much an open plane gets. Shade weighs it by where it comes from: what is
    as in a cloudless sky by that sky's radiance (clear_radiance.py), the rest evenly. The ground is lit by
    what the shade lets through.
    """
    dhi_wm2 = diffuse.level_wm2
    anisotropy = hay_davies(dni_wm2, view.extra_wm2)
    ratio = view.cos_incidence / max(view.sin_elevation, LOWEST_COS_ZENITH)
    sky_frac = view.sky_frac + diffuse.clear_share * (view.clear_sky_frac - view.sky_frac)
    beam = dni_wm2 * view.cos_incidence * view.beam_frac
    circumsolar = dhi_wm2 * anisotropy * ratio * view.around_sun_frac
    isotropic = dhi_wm2 * (1.0 - anisotropy) * 0.5 * (1.0 + view.cos_tilt) * sky_frac
    level = dni_wm2 * view.sin_elevation * view.beam_frac + dhi_wm2 * sky_frac
    return beam, circumsolar, isotropic, level * albedo_frac * 0.5 * (1.0 - view.cos_tilt)


@compiled
def _at(size: int, index: int) -> int:
    """Return `index`, or 0 along an axis that is the same for all."""
    return index if size > 1 else 0


@compiled
def sun_vector(azimuth_deg: float, elevation_deg: float) -> tuple[float, float, float]:
    """Return the unit vector towards the sun: east, north, up."""
    level = np.cos(np.radians(elevation_deg))
    azimuth = np.radians(azimuth_deg)
    return level * np.sin(azimuth), level * np.cos(azimuth), np.sin(np.radians(elevation_deg))


@compiled
def _view(
    i: int,
    j: int,
    f: int,
    toward_sun: tuple[float, float, float],
    extra_wm2: float,
    shade: ShadeOnFaces,
    faces: Faces,
) -> View:
    """Return the view of face f on segment j of departure i."""
    k = _at(faces.normal.shape[1], i)
    v = _at(shade.sky_view_frac.shape[1], i)
    around, clear = _at(shade.around_sun_frac.shape[1], i), _at(shade.clear_view_frac.shape[1], i)
    h = _at(faces.box_beam_frac.shape[1], i), _at(faces.box_beam_frac.shape[2], j)
    normal = faces.normal[f, k, j]
    beam_frac = shade.beam_frac[i, j]
    cosine = normal[0] * toward_sun[0] + normal[1] * toward_sun[1] + normal[2] * toward_sun[2]
    return View(
        max(cosine, 0.0),
        beam_modifier(cosine),
        toward_sun[2],
        extra_wm2,
        normal[2],
        beam_frac,
        shade.sky_view_frac[f, v, j],
        shade.around_sun_frac[f, around, j],
        shade.clear_view_frac[f, clear, j],
        faces.sky_modifier[f, k, j],
        faces.ground_modifier[f, k, j],
        even_frac(shade.lit_frac[i, j], faces.bypass_blocks[f]) * faces.box_beam_frac[f, h[0], h[1]],
        faces.box_beam_frac[f, h[0], h[1]],
        faces.box_dome_frac[f],
    )


@compiled
def _light(view: View, dni_wm2: float, diffuse: Diffuse, chain: Chain) -> tuple[float, float, float]:
    """Return irradiance on a face (W/m2) in one sky state: behind the shade, behind the glass, and of use.

    What uneven light costs makes no power but still warms the cells. Crowns make the beam uneven; the wide
    light around the sun they only dim.
    """
    beam, circumsolar, isotropic, ground = plane_of_array(view, dni_wm2, diffuse, chain.albedo_frac)
    plane = beam + circumsolar + isotropic + ground
    r = chain.reflection_weight
    beam *= 1.0 - r * (1.0 - view.beam_modifier)
    circumsolar *= 1.0 - r * (1.0 - view.beam_modifier)
    isotropic *= 1.0 - r * (1.0 - view.sky_modifier)
    ground *= 1.0 - r * (1.0 - view.ground_modifier)
    entered = beam + circumsolar + isotropic + ground
    lost = beam * (1.0 - view.even_beam_frac) + circumsolar * (1.0 - view.box_beam_frac)
    lost += isotropic * (1.0 - view.even_dome_frac)
    return plane, entered, entered - chain.uneven_weight * lost


@compiled
def _both_states(
    view: View, ghi_wm2: float, dni_wm2: float, cloud: tuple[float, float, float, float], chain: Chain
) -> Lit:
    """Return what a face gets of the two sky states, from clear ghi and dni; diffuse closes the global.

    With the sun out as much diffuse light as a cloudless sky gives comes as from it, though no larger a share
    than is left of the beam; what clouds add comes evenly (judgement).
    """
    beam = cloud[2] * dni_wm2
    diffuse = max(cloud[1] * ghi_wm2 - beam * view.sin_elevation, 0.0)
    clear = max(ghi_wm2 - dni_wm2 * view.sin_elevation, 0.0)
    clear_share = min(cloud[2], 1.0, clear / diffuse) if diffuse > 0.0 else 0.0
    plane_out, heat_out, use_out = _light(view, beam, Diffuse(diffuse, clear_share), chain)
    plane_hidden, heat_hidden, use_hidden = _light(view, 0.0, Diffuse(cloud[3] * ghi_wm2, 0.0), chain)
    out, hidden = cloud[0], 1.0 - cloud[0]
    return Lit(
        use_out, use_hidden, out * heat_out + hidden * heat_hidden, out * plane_out + hidden * plane_hidden
    )


@compiled
def controlled_w(panels_w: float, chain: Chain) -> float:
    """Return watts at the battery terminals of the panels' DC power: soiling, mismatch, wiring, controller."""
    reached = panels_w * (1.0 - chain.soiling_frac) * (1.0 - chain.mismatch_frac) * (1.0 - chain.wiring_frac)
    return controller_output_w(
        reached,
        chain.max_input_w,
        chain.start_up_w,
        chain.full_load_w,
        chain.curve_load_frac,
        chain.curve_efficiency_frac,
    )


@compiled
def _face_w(light_wm2: float, cell_c: float, f: int, j: int, faces: Faces, chain: Chain) -> float:
    """Return the DC power of face f on segment j in W: light, weak light, temperature, age."""
    rated_w = faces.rated_w[f, j] * (1.0 - chain.age_weight * faces.age_frac[f])
    weak = weak_light_frac(light_wm2, faces.weak_light[f, 0], faces.weak_light[f, 1])
    power_w = dc_power_w(rated_w, light_wm2, cell_c, faces.coefficient_pct_per_c[f])
    return power_w * (1.0 + chain.weak_light_weight * (weak - 1.0))


@compiled
def _cell_c(
    lit: Lit,
    air: tuple[float, float, float],
    cooling: tuple[float, float],
    vehicle: tuple[float, float],
    to_go: tuple[float, float],
    before_c: float,
) -> tuple[float, float]:
    """Return a cell's temperature at the segment's end and its mean over it, at a vehicle's speed and heading.

    NaN before: it starts in balance.
    """
    air_mps = air_speed_mps(vehicle[0], vehicle[1], air[1], air[2])
    steady = cell_temperature_c(lit.heat_wm2, air[0], air_mps, cooling[0], cooling[1])
    if np.isnan(before_c):
        return steady, steady
    return lagged_c(before_c, steady, to_go[0]), lagged_c(before_c, steady, to_go[1])


def clear_sky_along(
    azimuth_deg: FloatArray,
    elevation_deg: FloatArray,
    height_m: FloatArray,
    turbidity: FloatArray,
    earth_sun_au: FloatArray,
) -> OpenSky:
    """Return the truly clear sky over the drive; all arrays (d, n), the height (n,)."""
    shape = elevation_deg.shape
    sky = OpenSky(azimuth_deg, elevation_deg, *(np.empty(shape) for _ in range(4)))
    over_departures(
        lambda first, end: _fill_clear_sky(first, end, height_m, turbidity, earth_sun_au, sky), *shape
    )
    return sky


@compiled
def _fill_clear_sky(
    first: int, end: int, height_m: FloatArray, turbidity: FloatArray, earth_sun_au: FloatArray, sky: OpenSky
) -> None:
    """Fill the irradiances of some departures."""
    for i in range(first, end):
        for j in range(sky.elevation_deg.shape[1]):
            extra = extraterrestrial_wm2(earth_sun_au[i, j])
            light = clear_sky_wm2(sky.elevation_deg[i, j], height_m[j], turbidity[i, j], extra)
            sky.extra_wm2[i, j] = extra
            sky.ghi_wm2[i, j], sky.dni_wm2[i, j], sky.dhi_wm2[i, j] = light


@compiled
def _cloud(states: States, s: int, i: int, j: int) -> tuple[float, float, float, float]:
    """Return what States.cloud holds there, as numbers: views of arrays cost more than the sums."""
    i, j, cloud = _at(states.cloud.shape[1], i), _at(states.cloud.shape[2], j), states.cloud
    return cloud[s, i, j, 0], cloud[s, i, j, 1], cloud[s, i, j, 2], cloud[s, i, j, 3]


@compiled
def _air(states: States, s: int, i: int, j: int) -> tuple[float, float, float]:
    """Return what States.air holds there, as numbers."""
    i, j, air = _at(states.air.shape[1], i), _at(states.air.shape[2], j), states.air
    return air[s, i, j, 0], air[s, i, j, 1], air[s, i, j, 2]


@compiled
def _departure(
    i: int,
    drive: Drive,
    open_sky: OpenSky,
    shade: ShadeOnFaces,
    faces: Faces,
    states: States,
    chain: Chain,
    cell: FloatArray,
    watts: Watts,
) -> None:
    """Fill one departure of `watts` for every sky; `cell` (s, f) carries the cells' temperatures along.

    The loop over segments stands here since handing all these arrays to a function costs as much as a segment.
    """
    for j in range(open_sky.ghi_wm2.shape[1]):
        ghi, dni = open_sky.ghi_wm2[i, j], open_sky.dni_wm2[i, j]
        sunlit = ghi > 0.0
        toward_sun = sun_vector(open_sky.azimuth_deg[i, j], open_sky.elevation_deg[i, j])
        vehicle = drive.speed_mps[j], drive.heading_deg[j]
        lag_s = DRIVING_TIME_CONSTANT_S if vehicle[0] > 0.0 else PARKED_TIME_CONSTANT_S
        to_go = lag_fracs(drive.duration_s[i, j], lag_s)
        for f in range(len(faces.cooling)):
            view = _view(i, j, f, toward_sun, open_sky.extra_wm2[i, j], shade, faces)
            cooling = faces.cooling[f, 0], faces.cooling[f, 1]
            for s in range(len(cell)):
                cloud, air = _cloud(states, s, i, j), _air(states, s, i, j)
                lit = _both_states(view, ghi, dni, cloud, chain) if sunlit else Lit(0.0, 0.0, 0.0, 0.0)
                cell[s, f], mean_c = _cell_c(lit, air, cooling, vehicle, to_go, cell[s, f])
                if f == 0 and s == 0:
                    watts.plane_wm2[i, j], watts.cell_c[i, j] = lit.plane_wm2, mean_c
                if sunlit:
                    warm_c = RATED_C + chain.temperature_weight * (mean_c - RATED_C)
                    watts.unobscured_w[s, i, j] += _face_w(lit.unobscured_wm2, warm_c, f, j, faces, chain)
                    watts.obscured_w[s, i, j] += _face_w(lit.obscured_wm2, warm_c, f, j, faces, chain)
        if sunlit:
            for s in range(len(cell)):
                watts.unobscured_w[s, i, j] = controlled_w(watts.unobscured_w[s, i, j], chain)
                watts.obscured_w[s, i, j] = controlled_w(watts.obscured_w[s, i, j], chain)


def run_chain(
    drive: Drive, open_sky: OpenSky, shade: ShadeOnFaces, faces: Faces, states: States, chain: Chain
) -> Watts:
    """Return Watts of every sky, departure and segment; at night exactly nothing.

    The cell's temperature is a recurrence along a departure, so one departure gives the same alone as
    within a sweep.
    """
    d, n = open_sky.elevation_deg.shape
    shape = (len(states.cloud), d, n)
    watts = Watts(np.zeros(shape), np.zeros(shape), np.empty((d, n)), np.empty((d, n)))
    over_departures(
        lambda first, end: _departures(first, end, drive, open_sky, shade, faces, states, chain, watts), d, n
    )
    return watts


@compiled
def _departures(
    first: int,
    end: int,
    drive: Drive,
    open_sky: OpenSky,
    shade: ShadeOnFaces,
    faces: Faces,
    states: States,
    chain: Chain,
    watts: Watts,
) -> None:
    """Fill some departures of `watts`."""
    cell = np.empty((len(states.cloud), len(faces.cooling)))
    for i in range(first, end):
        cell[:] = np.nan
        _departure(i, drive, open_sky, shade, faces, states, chain, cell, watts)
