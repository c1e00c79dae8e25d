"""The whole chain from sky to battery terminals, fused over departures, segments, panel faces and skies.

It goes block by block of segments: the sun, what each face sees of it, each sky's light on that face behind
trees and glass, the cell's temperature, DC power, wiring, controller. Each sky has two states, sun unobscured
and obscured; both run through the whole chain because the controller's limit and shade are not linear, and the
cell carries one temperature, lagged, from the irradiance both would give.
"""

from typing import NamedTuple, TypeVar

import numpy as np

from routesolar.arrays import FloatArray, read_only, room
from routesolar.physics.blocks import BLOCK, any_above_zero, at, bring, bring_of, fill, take_out
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
from routesolar.physics.charging import control, wired_w
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import sine_cosine
from routesolar.physics.face_light import Lit, View, both_states, per_level
from routesolar.physics.glass import beam_modifier
from routesolar.physics.kernel_arrays import Chain, Drive, Faces, OpenSky, ShadeOnFaces, States, Watts
from routesolar.physics.partial_shade import even_frac
from routesolar.physics.threads import over_departures

# Rows of a block: the sun and the drive, what a face sees, a sky, and what comes of them.
_ROWS = 37
_AZIMUTH, _ELEVATION, _EAST, _NORTH, _UP, _GHI, _DNI, _EXTRA = range(8)
_SPEED, _HEADING, _DURATION, _TO_GO, _TO_GO_MEAN = range(8, 13)
_COS_INCIDENCE, _BEAM_MODIFIER, _COS_TILT, _BEAM, _SKY_VIEW, _AROUND_SUN, _CLEAR_VIEW = range(13, 20)
_SKY_MODIFIER, _GROUND_MODIFIER, _EVEN_BEAM, _BOX_BEAM, _RATED = range(20, 25)
_PROB, _OUT, _BEAM_OUT, _HIDDEN, _AIR, _AIR_SPEED = range(25, 31)
_OUT_WM2, _HIDDEN_WM2, _HEAT, _PLANE, _SPARE, _PER_LEVEL = range(31, _ROWS)
# And what a face makes of each sky: light of both states, the cells' temperature in balance and on average.
_LIGHTS = 4
_OUT_LIGHT, _HIDDEN_LIGHT, _STEADY_C, _MEAN_C = range(_LIGHTS)


Fields = TypeVar("Fields", bound=NamedTuple)


@inlined
def sun_vector(azimuth_deg: float, elevation_deg: float) -> tuple[float, float, float]:
    """Return the unit vector towards the sun: east, north, up."""
    sine, cosine = sine_cosine(azimuth_deg)
    up, level = sine_cosine(elevation_deg)
    return level * sine, level * cosine, up


def run_chain(
    drive: Drive, open_sky: OpenSky, shade: ShadeOnFaces, faces: Faces, states: States, chain: Chain
) -> Watts:
    """Return Watts of every sky, departure and segment; at night exactly nothing.

    The cell's temperature is a recurrence along a departure, so one departure gives the same alone as
    within a sweep.
    """
    drive, open_sky, shade = _read_only(drive), _read_only(open_sky), _read_only(shade)
    faces, states = _read_only(faces), _read_only(states)
    d, n = open_sky.elevation_deg.shape
    skies = max(len(field) for field in states)
    fields = room(3 * skies + 2, d, n)
    watts = Watts(*fields[:-2].reshape(3, skies, d, n), *fields[-2:])
    over_departures(
        lambda first, end: _departures(first, end, drive, open_sky, shade, faces, states, chain, watts), d, n
    )
    return watts


def _read_only(fields: Fields) -> Fields:
    return fields._make(read_only(field) for field in fields)


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
    """Fill some departures of `watts`; `cell_c` (f, s) carries the cells' temperatures along each."""
    (skies, _, n), block = watts.expected_w.shape, np.empty((_ROWS, BLOCK))
    lights = np.empty((skies, _LIGHTS, BLOCK))
    cell_c = np.empty((len(faces.cooling), skies))
    for i in range(first, end):
        cell_c[:] = np.nan
        for start in range(0, n, BLOCK):
            stop = min(start + BLOCK, n)
            _fill(i, start, stop, block, lights, cell_c, drive, open_sky, shade, faces, states, chain, watts)


@inlined
def _fill(
    i: int,
    start: int,
    stop: int,
    block: FloatArray,
    lights: FloatArray,
    cell_c: FloatArray,
    drive: Drive,
    open_sky: OpenSky,
    shade: ShadeOnFaces,
    faces: Faces,
    states: States,
    chain: Chain,
    watts: Watts,
) -> None:
    """Fill a block of segments of a departure."""
    count, skies = stop - start, len(lights)
    _bring_drive(block, i, start, stop, drive)
    bring(block[_GHI], open_sky.ghi_wm2[i], start, stop)
    sunlit = any_above_zero(block[_GHI], count)
    if sunlit:
        _bring_sun(block, i, start, stop, open_sky)
    for f in range(len(faces.cooling)):
        if sunlit:
            _bring_view(block, f, i, start, stop, shade, faces)
        for s in range(skies):
            _bring_air(block, s, i, start, stop, states)
            if sunlit:
                _bring_cloud(block, s, i, start, stop, states)
                _light_face(block, count, faces.box_dome_frac[f], chain)
                take_out(block[_OUT_WM2], lights[s, _OUT_LIGHT], 0, count)
                take_out(block[_HIDDEN_WM2], lights[s, _HIDDEN_LIGHT], 0, count)
            else:
                fill(block[_HEAT], 0.0, count)
                fill(block[_PLANE], 0.0, count)
            if f == 0 and s == 0:
                take_out(block[_PLANE], watts.plane_wm2[i], start, stop)
            _balance(block, count, faces.cooling[f])
            take_out(block[_HEAT], lights[s, _STEADY_C], 0, count)
        _warm_cells(block, count, lights, cell_c[f])
        if f == 0:
            take_out(lights[0, _MEAN_C], watts.cell_c[i], start, stop)
        if sunlit:
            bring(block[_RATED], faces.rated_w[f], start, stop)
            for s in range(skies):
                out, hidden = watts.unobscured_w[s, i, start:stop], watts.obscured_w[s, i, start:stop]
                if f == 0:
                    fill(out, 0.0, count)
                    fill(hidden, 0.0, count)
                _add_power(block, lights[s], out, hidden, f, faces, chain)
    for s in range(skies):
        out, hidden = watts.unobscured_w[s, i, start:stop], watts.obscured_w[s, i, start:stop]
        expected = watts.expected_w[s, i, start:stop]
        if sunlit:
            _control(out, block[_SPARE], chain)
            _control(hidden, block[_SPARE], chain)
            bring_of(block[_PROB], states.sun_out_prob, s, i, start, stop)
            for j in range(count):
                expected[j] = hidden[j] + block[_PROB, j] * (out[j] - hidden[j])
        else:
            fill(out, 0.0, count)
            fill(hidden, 0.0, count)
            fill(expected, 0.0, count)


@inlined
def _bring_sun(block: FloatArray, i: int, start: int, stop: int, open_sky: OpenSky) -> None:
    """Bring the sun's direction and the rest of the clear sky of a departure."""
    bring(block[_AZIMUTH], open_sky.azimuth_deg[i], start, stop)
    bring(block[_ELEVATION], open_sky.elevation_deg[i], start, stop)
    bring(block[_DNI], open_sky.dni_wm2[i], start, stop)
    bring(block[_EXTRA], open_sky.extra_wm2[i], start, stop)
    for j in range(stop - start):
        east, north, up = sun_vector(block[_AZIMUTH, j], block[_ELEVATION, j])
        block[_EAST, j], block[_NORTH, j], block[_UP, j] = east, north, up


@inlined
def _bring_drive(block: FloatArray, i: int, start: int, stop: int, drive: Drive) -> None:
    """Bring how the vehicle moves, and how far its cells stay from their steady temperature."""
    bring(block[_SPEED], drive.speed_mps, start, stop)
    bring(block[_HEADING], drive.heading_deg, start, stop)
    bring(block[_DURATION], drive.duration_s[i], start, stop)
    for j in range(stop - start):
        lag_s = DRIVING_TIME_CONSTANT_S if block[_SPEED, j] > 0.0 else PARKED_TIME_CONSTANT_S
        block[_TO_GO, j], block[_TO_GO_MEAN, j] = lag_fracs(block[_DURATION, j], lag_s)


@inlined
def _bring_view(
    block: FloatArray, f: int, i: int, start: int, stop: int, shade: ShadeOnFaces, faces: Faces
) -> None:
    """Bring what a face makes of the sun, the same for every sky."""
    bring(block[_BEAM], shade.beam_frac[i], start, stop)
    bring_of(block[_SKY_VIEW], shade.sky_view_frac, f, i, start, stop)
    bring_of(block[_AROUND_SUN], shade.around_sun_frac, f, i, start, stop)
    bring_of(block[_CLEAR_VIEW], shade.clear_view_frac, f, i, start, stop)
    bring_of(block[_SKY_MODIFIER], faces.sky_modifier, f, i, start, stop)
    bring_of(block[_GROUND_MODIFIER], faces.ground_modifier, f, i, start, stop)
    bring_of(block[_BOX_BEAM], faces.box_beam_frac, f, i, start, stop)
    bring(block[_EVEN_BEAM], shade.lit_frac[i], start, stop)
    normal = faces.normal[f, at(faces.normal.shape[1], i), start:stop]
    bypass_blocks = faces.bypass_blocks[f]
    for j in range(stop - start):
        block[_COS_TILT, j] = normal[j, 2]
        level = normal[j, 0] * block[_EAST, j] + normal[j, 1] * block[_NORTH, j]
        block[_COS_INCIDENCE, j] = level + normal[j, 2] * block[_UP, j]
    for j in range(stop - start):
        block[_BEAM_MODIFIER, j] = beam_modifier(block[_COS_INCIDENCE, j])
        block[_COS_INCIDENCE, j] = max(block[_COS_INCIDENCE, j], 0.0)
        block[_PER_LEVEL, j] = per_level(block[_COS_INCIDENCE, j], block[_UP, j])
        block[_EVEN_BEAM, j] = even_frac(block[_EVEN_BEAM, j], bypass_blocks) * block[_BOX_BEAM, j]


@inlined
def _bring_air(block: FloatArray, s: int, i: int, start: int, stop: int, states: States) -> None:
    """Bring the air of a sky, and how fast it streams past the vehicle."""
    if s == 0 or len(states.air_c) > 1:
        bring_of(block[_AIR], states.air_c, s, i, start, stop)
    if s == 0 or len(states.wind_mps) > 1 or len(states.wind_from_deg) > 1:
        bring_of(block[_AIR_SPEED], states.wind_mps, s, i, start, stop)
        bring_of(block[_PROB], states.wind_from_deg, s, i, start, stop)
        for j in range(stop - start):
            block[_AIR_SPEED, j] = air_speed_mps(
                block[_SPEED, j], block[_HEADING, j], block[_AIR_SPEED, j], block[_PROB, j]
            )


@inlined
def _bring_cloud(block: FloatArray, s: int, i: int, start: int, stop: int, states: States) -> None:
    """Bring the two states of a sky."""
    bring_of(block[_PROB], states.sun_out_prob, s, i, start, stop)
    bring_of(block[_OUT], states.unobscured_index, s, i, start, stop)
    bring_of(block[_BEAM_OUT], states.unobscured_beam_index, s, i, start, stop)
    bring_of(block[_HIDDEN], states.obscured_index, s, i, start, stop)


@inlined
def _light_face(block: FloatArray, count: int, even_dome_frac: float, chain: Chain) -> None:
    """Work out the light of both states on the face in view."""
    for j in range(count):
        view = View(
            block[_COS_INCIDENCE, j],
            block[_BEAM_MODIFIER, j],
            block[_UP, j],
            block[_PER_LEVEL, j],
            block[_EXTRA, j],
            block[_COS_TILT, j],
            block[_BEAM, j],
            block[_SKY_VIEW, j],
            block[_AROUND_SUN, j],
            block[_CLEAR_VIEW, j],
            block[_SKY_MODIFIER, j],
            block[_GROUND_MODIFIER, j],
            block[_EVEN_BEAM, j],
            block[_BOX_BEAM, j],
            even_dome_frac,
        )
        cloud = block[_PROB, j], block[_OUT, j], block[_BEAM_OUT, j], block[_HIDDEN, j]
        lit = both_states(view, block[_GHI, j], block[_DNI, j], cloud, chain)
        if not block[_GHI, j] > 0.0:
            lit = Lit(0.0, 0.0, 0.0, 0.0)
        block[_OUT_WM2, j], block[_HIDDEN_WM2, j] = lit.unobscured_wm2, lit.obscured_wm2
        block[_HEAT, j], block[_PLANE, j] = lit.heat_wm2, lit.plane_wm2


@inlined
def _balance(block: FloatArray, count: int, cooling: FloatArray) -> None:
    """Turn what heats the cells into the temperature at which they would settle."""
    u0, u1 = cooling[0], cooling[1]
    for j in range(count):
        block[_HEAT, j] = cell_temperature_c(block[_HEAT, j], block[_AIR, j], block[_AIR_SPEED, j], u0, u1)


@inlined
def _warm_cells(block: FloatArray, count: int, lights: FloatArray, cell_c: FloatArray) -> None:
    """Work out the cells' mean temperature over each segment, and the last of each sky in `cell_c`.

    A temperature waits for the one before it, so the skies go side by side. NaN: in balance.
    """
    for s in range(len(lights)):
        cell_c[s] = lights[s, _STEADY_C, 0] if np.isnan(cell_c[s]) else cell_c[s]
    for j in range(count):
        for s in range(len(lights)):
            lights[s, _MEAN_C, j] = cell_c[s]
            cell_c[s] = lagged_c(cell_c[s], lights[s, _STEADY_C, j], block[_TO_GO, j])
    for s in range(len(lights)):
        for j in range(count):
            lights[s, _MEAN_C, j] = lagged_c(
                lights[s, _MEAN_C, j], lights[s, _STEADY_C, j], block[_TO_GO_MEAN, j]
            )


@inlined
def _add_power(
    block: FloatArray,
    light: FloatArray,
    out_w: FloatArray,
    hidden_w: FloatArray,
    f: int,
    faces: Faces,
    chain: Chain,
) -> None:
    """Add the DC power of a face in W under the light of both states: weak light, temperature, age."""
    facts = faces.coefficient_pct_per_c[f], faces.weak_light[f, 0], faces.weak_light[f, 1]
    young_frac = 1.0 - chain.age_weight * faces.age_frac[f]
    for j in range(len(out_w)):
        warm_c = RATED_C + chain.temperature_weight * (light[_MEAN_C, j] - RATED_C)
        rated_w = block[_RATED, j] * young_frac
        out_w[j] += _dc_w(rated_w, light[_OUT_LIGHT, j], warm_c, facts, chain)
        hidden_w[j] += _dc_w(rated_w, light[_HIDDEN_LIGHT, j], warm_c, facts, chain)


@inlined
def _dc_w(
    rated_w: float, light_wm2: float, warm_c: float, facts: tuple[float, float, float], chain: Chain
) -> float:
    """Return a face's DC power in W; what weak light costs is weighed. Facts: warmth in % per C, k1, k2."""
    coefficient_pct_per_c, k1, k2 = facts
    weak = weak_light_frac(light_wm2, k1, k2)
    power_w = dc_power_w(rated_w, light_wm2, warm_c, coefficient_pct_per_c)
    return power_w * (1.0 + chain.weak_light_weight * (weak - 1.0))


@compiled
def _control(power_w: FloatArray, spare: FloatArray, chain: Chain) -> None:
    """Turn the panels' DC power in W into watts at the battery: soiling, mismatch, wiring, controller."""
    for j in range(len(power_w)):
        power_w[j] = wired_w(power_w[j], chain)
    control(
        power_w,
        spare[: len(power_w)],
        chain.max_input_w,
        chain.start_up_w,
        chain.full_load_w,
        chain.curve_load_frac,
        chain.curve_efficiency_frac,
    )
