"""The truly clear sky along a drive, departure by departure."""

import numpy as np

from routesolar.arrays import FloatArray, room
from routesolar.physics.blocks import BLOCK, any_above_zero, bring, fill, take_out
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.kernel_arrays import OpenSky
from routesolar.physics.sky import AirAbove, air_above, clear_sky_wm2, extraterrestrial_wm2
from routesolar.physics.threads import over_departures

# Rows of a block: what depends on the place alone, then the sun and its light.
_ROWS = 15
_HEIGHT, _PRESSURE, _GLOBAL, _PER_MASS, _CLEAN, _HAZE, _DIRECT, _THICK = range(8)
_ELEVATION, _TURBIDITY, _DISTANCE, _EXTRA, _GHI, _DNI, _DHI = range(8, _ROWS)


def clear_sky_along(
    azimuth_deg: FloatArray,
    elevation_deg: FloatArray,
    height_m: FloatArray,
    turbidity: FloatArray,
    earth_sun_au: FloatArray,
) -> OpenSky:
    """Return the truly clear sky over the drive; all arrays (d, n), the height (n,)."""
    shape = elevation_deg.shape
    sky = OpenSky(azimuth_deg, elevation_deg, *room(4, *shape))
    over_departures(
        lambda first, end: _fill_clear_sky(first, end, height_m, turbidity, earth_sun_au, sky), *shape
    )
    return sky


@compiled
def _fill_clear_sky(
    first: int, end: int, height_m: FloatArray, turbidity: FloatArray, earth_sun_au: FloatArray, sky: OpenSky
) -> None:
    """Fill the irradiances of some departures."""
    block, count = np.empty((_ROWS, BLOCK)), sky.elevation_deg.shape[1]
    for start in range(0, count, BLOCK):
        stop = min(start + BLOCK, count)
        _bring_air(block, start, stop, height_m)
        for i in range(first, end):
            _fill_part(i, start, stop, block, turbidity, earth_sun_au, sky)


@inlined
def _fill_part(
    i: int,
    start: int,
    stop: int,
    block: FloatArray,
    turbidity: FloatArray,
    earth_sun_au: FloatArray,
    sky: OpenSky,
) -> None:
    """Fill the irradiances of a block of segments of a departure."""
    bring(block[_ELEVATION], sky.elevation_deg[i], start, stop)
    bring(block[_DISTANCE], earth_sun_au[i], start, stop)
    for j in range(stop - start):
        block[_EXTRA, j] = extraterrestrial_wm2(block[_DISTANCE, j])
    if any_above_zero(block[_ELEVATION], stop - start):
        bring(block[_TURBIDITY], turbidity[i], start, stop)
        _light_sky(block, stop - start)
    else:
        for row in range(_GHI, _DHI + 1):
            fill(block[row], 0.0, stop - start)
    take_out(block[_EXTRA], sky.extra_wm2[i], start, stop)
    take_out(block[_GHI], sky.ghi_wm2[i], start, stop)
    take_out(block[_DNI], sky.dni_wm2[i], start, stop)
    take_out(block[_DHI], sky.dhi_wm2[i], start, stop)


@inlined
def _bring_air(block: FloatArray, start: int, stop: int, height_m: FloatArray) -> None:
    """Bring what the clear sky makes of the height of places."""
    bring(block[_HEIGHT], height_m, start, stop)
    for j in range(stop - start):
        air = air_above(block[_HEIGHT, j])
        block[_PRESSURE, j], block[_GLOBAL, j] = air.pressure_frac, air.global_frac
        block[_PER_MASS, j], block[_CLEAN, j] = air.global_per_mass, air.clean_frac
        block[_HAZE, j], block[_DIRECT, j], block[_THICK, j] = air.haze_frac, air.direct_frac, air.thick


@inlined
def _light_sky(block: FloatArray, count: int) -> None:
    """Work out the light of the clear sky under the suns of a block."""
    for j in range(count):
        air = AirAbove(
            block[_PRESSURE, j],
            block[_GLOBAL, j],
            block[_PER_MASS, j],
            block[_CLEAN, j],
            block[_HAZE, j],
            block[_DIRECT, j],
            block[_THICK, j],
        )
        ghi, dni, dhi = clear_sky_wm2(block[_ELEVATION, j], air, block[_TURBIDITY, j], block[_EXTRA, j])
        block[_GHI, j], block[_DNI, j], block[_DHI, j] = ghi, dni, dhi
