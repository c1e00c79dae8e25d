"""The truly clear sky along a drive, departure by departure."""

import numpy as np

from routesolar.arrays import FloatArray
from routesolar.physics.blocks import BLOCK, any_above_zero, bring, fill, take_out
from routesolar.physics.compiled import compiled
from routesolar.physics.kernel_arrays import OpenSky
from routesolar.physics.sky import clear_sky_wm2, extraterrestrial_wm2
from routesolar.physics.threads import over_departures

_ROWS = 8
_ELEVATION, _HEIGHT, _TURBIDITY, _DISTANCE, _EXTRA, _GHI, _DNI, _DHI = range(_ROWS)


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
    block, count = np.empty((_ROWS, BLOCK)), sky.elevation_deg.shape[1]
    for i in range(first, end):
        for start in range(0, count, BLOCK):
            stop = min(start + BLOCK, count)
            bring(block, _ELEVATION, sky.elevation_deg[i], start, stop)
            bring(block, _DISTANCE, earth_sun_au[i], start, stop)
            for j in range(stop - start):
                block[_EXTRA, j] = extraterrestrial_wm2(block[_DISTANCE, j])
            if any_above_zero(block, _ELEVATION, stop - start):
                bring(block, _HEIGHT, height_m, start, stop)
                bring(block, _TURBIDITY, turbidity[i], start, stop)
                for j in range(stop - start):
                    ghi, dni, dhi = clear_sky_wm2(
                        block[_ELEVATION, j], block[_HEIGHT, j], block[_TURBIDITY, j], block[_EXTRA, j]
                    )
                    block[_GHI, j], block[_DNI, j], block[_DHI, j] = ghi, dni, dhi
            else:
                for row in (_GHI, _DNI, _DHI):
                    fill(block, row, 0.0, stop - start)
            take_out(block, _EXTRA, sky.extra_wm2[i], start, stop)
            take_out(block, _GHI, sky.ghi_wm2[i], start, stop)
            take_out(block, _DNI, sky.dni_wm2[i], start, stop)
            take_out(block, _DHI, sky.dhi_wm2[i], start, stop)
