"""Sunlight before it meets the panel: cloudless irradiance, and how hazy a clear day's air is.

All functions named `*_wm2`, `air_mass` and `hay_davies` are compiled scalars for the loop over the drive; the
others take arrays.

Hay & Davies (1980) part the diffuse irradiance on a plane in two:
    around the sun:      dhi * A * max(cos_incidence, 0) / max(cos_zenith, LOWEST_COS_ZENITH)
    from all of the sky: dhi * (1 - A) * (1 + cos_tilt) / 2
with the anisotropy index A = `hay_davies(dni, extra)`. Both are of an open sky; where the light of a
cloudless sky comes from, clear_radiance.py says.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import NamedTuple, TypeVar

import h5py
import numpy as np
from numpy.typing import ArrayLike, NDArray

from routesolar.arrays import FloatArray
from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import exponential, logarithm, power, sine_cosine
from routesolar.physics.pvlib_parts import pvlib_folder
from routesolar.physics.rows import in_rows
from routesolar.physics.sun import isa_pressure_pa
from routesolar.physics.threads import over_departures

Number = TypeVar("Number", float, FloatArray)

SOLAR_CONSTANT_WM2 = 1361.0  # total irradiance at 1 au; Kopp & Lean 2011, doi 10.1029/2010GL045777
LOWEST_COS_ZENITH = 0.01745  # 89 deg: below, the projected brightness around the sun would run away
OZONE_CM, WATER_CM = 0.3, 1.0  # overhead, of clean air
PURE_AIR_MOST_WM2 = 60.0  # of diffuse light: what pure air scatters stays below, the ground's share included
BARE_GROUND_FRAC, CLEAN_SKY_FRAC = 0.2, 0.0685  # reflected by the land around and by the sky above it
CLEAR_DAY_FRAC = 0.6  # of what the climatology's mean day has beyond pure dry air
PURE_DRY_AIR = 1.0  # by the definition of Linke's turbidity
LEAST_AT_SEA_LEVEL = 1.0  # of vapour and haze, on the clearest days
HAZE_SCALE_M = 8434.5  # over which height thins the haze
CELLS_PER_DEG, BLOCK_DEG = 12, 10  # of the world maps, and read at once


@compiled
def extraterrestrial_wm2(earth_sun_au: Number) -> Number:
    """Return the irradiance in W/m2 above the air, square to the sun, from the true Earth-Sun distance.

    The distance is SPA's, not a Fourier series of the day of year. Takes a scalar or an array.
    """
    return SOLAR_CONSTANT_WM2 / earth_sun_au**2


@inlined
def air_mass(apparent_zenith_deg: float) -> float:
    """Return the relative optical air mass (1 is overhead at sea level); a scalar.

    Kasten & Young 1989, Applied Optics 28:4735, eq. 3, for apparent zenith angles of 0 to 90 deg; NaN
    below the horizon.
    """
    _, cos_zenith = sine_cosine(apparent_zenith_deg)
    return _air_mass(apparent_zenith_deg, cos_zenith)


@inlined
def _air_mass(apparent_zenith_deg: float, cos_zenith: float) -> float:
    """Return the air mass where the cosine is known."""
    mass = 1.0 / (cos_zenith + 0.50572 * power(96.07995 - apparent_zenith_deg, -1.6364))
    return np.nan if apparent_zenith_deg > 90.0 else mass


class AirPassed(NamedTuple):
    """What is left of the beam behind ozone, mixed gases and pure air, and the share that is scattered down."""

    ozone_frac: float
    gases_frac: float
    air_frac: float
    downward_frac: float


@inlined
def _air_passed(relative_air_mass: float, absolute_air_mass: float) -> AirPassed:
    """Return what Bird & Hulstrom's air lets pass, from the air mass as seen and corrected for pressure."""
    ozone = OZONE_CM * relative_air_mass
    ozone_passed = 1.0 - 0.1611 * ozone * power(1.0 + 139.48 * ozone, -0.3035)
    ozone_passed -= 0.002715 * ozone / (1.0 + 0.044 * ozone + 0.0003 * ozone * ozone)
    mass_log = logarithm(absolute_air_mass)  # its powers share it
    gases_passed = exponential(-0.0127 * exponential(0.26 * mass_log))
    unscattered = 1.0 + absolute_air_mass - exponential(1.01 * mass_log)
    air_passed = exponential(-0.0903 * exponential(0.84 * mass_log) * unscattered)
    downward = 0.79 * 0.5 * (1.0 - air_passed) / (1.0 - relative_air_mass + power(relative_air_mass, 1.02))
    return AirPassed(ozone_passed, gases_passed, air_passed, downward)


class AirAbove(NamedTuple):
    """What the air above a place leaves of the clear sky's terms of height."""

    pressure_frac: float  # of the sea's
    global_frac: float  # Ineichen & Perez's cg1 and cg2
    global_per_mass: float
    clean_frac: float  # their fh1 and fh2
    haze_frac: float
    direct_frac: float  # their b
    thick: float


@inlined
def air_above(elevation_m: float) -> AirAbove:
    """Return the clear sky's terms of height: Ineichen & Perez 2002, the standard atmosphere's pressure."""
    clean, haze = exponential(-elevation_m / 8000.0), exponential(-elevation_m / 1250.0)
    return AirAbove(
        isa_pressure_pa(elevation_m) / 101_325.0,
        5.09e-5 * elevation_m + 0.868,
        3.92e-5 * elevation_m + 0.0387,
        clean,
        haze,
        0.664 + 0.163 / clean,
        0.1 + 0.882 / clean,
    )


@inlined
def clear_sky_wm2(
    apparent_elevation_deg: float, air: AirAbove, linke_turbidity: float, extra_wm2: float
) -> tuple[float, float, float]:
    """Return ghi, dni and dhi in W/m2 under a cloudless sky; a scalar. The air is `air_above` the place.

    Ineichen & Perez 2002, Solar Energy 73:151, without the enhancement term, with the air mass
    corrected for the standard atmosphere's pressure; but never less diffuse light than pure air scatters,
    where the model falls short of it: under low suns in thin or clean air; and never more light, global or
    direct, than pure dry air lets through: the model's terms of height grow without bound, beyond it from some
    3,200 m up, and are not made for such heights. Exactly 0 when the sun is not above the horizon.
    """
    cos_zenith, _ = sine_cosine(apparent_elevation_deg)
    relative_air_mass = _air_mass(90.0 - apparent_elevation_deg, cos_zenith)
    absolute_air_mass = relative_air_mass * air.pressure_frac
    passed = _air_passed(relative_air_mass, absolute_air_mass)
    haze = linke_turbidity - 1.0
    most_ghi, most_dni = pure_dry_air_wm2(extra_wm2, cos_zenith, passed)

    path = air.global_per_mass * absolute_air_mass * (air.clean_frac + air.haze_frac * haze)
    ghi = air.global_frac * extra_wm2 * cos_zenith * exponential(-path)
    direct = air.direct_frac * extra_wm2 * exponential(-0.09 * absolute_air_mass * haze)
    least_diffuse_frac = (0.1 - 0.2 * exponential(-linke_turbidity)) / air.thick
    square = cos_zenith if cos_zenith != 0.0 else 1.0  # a sun on the horizon gives nothing, below
    dni = min(direct, ghi * (1.0 - least_diffuse_frac) / square, most_dni)
    ghi = min(ghi, most_ghi)
    level_beam = dni * cos_zenith
    scattered = pure_air_diffuse_wm2(extra_wm2 * cos_zenith, relative_air_mass, passed)
    least_ghi = (level_beam + scattered) / (1.0 - BARE_GROUND_FRAC * CLEAN_SKY_FRAC)
    ghi = ghi if ghi - level_beam > PURE_AIR_MOST_WM2 else max(ghi, least_ghi)
    set_ = apparent_elevation_deg <= 0.0
    return (0.0 if set_ else ghi), (0.0 if set_ else dni), (0.0 if set_ else ghi - level_beam)


@inlined
def pure_dry_air_wm2(extra_wm2: float, cos_zenith: float, passed: AirPassed) -> tuple[float, float]:
    """Return the most ghi and dni in W/m2 that air lets through: without haze and water, bare ground; a scalar.

    Bird & Hulstrom 1981, as `pure_air_diffuse_wm2`. Their beam is of 0.3 to 3 um and has a factor of 0.9662
    for the rest of the spectrum (from memory); it is left out, for dry thin air passes some of that rest.
    """
    dry_wm2 = extra_wm2 * passed.ozone_frac * passed.gases_frac
    level_wm2 = dry_wm2 * cos_zenith * (passed.air_frac + passed.downward_frac)
    return level_wm2 / (1.0 - BARE_GROUND_FRAC * CLEAN_SKY_FRAC), dry_wm2 * passed.air_frac


@inlined
def pure_air_diffuse_wm2(level_wm2: float, relative_air_mass: float, passed: AirPassed) -> float:
    """Return the diffuse irradiance in W/m2 that air without haze scatters down over black ground; a scalar.

    `level_wm2` is what falls on the level above the air; the air mass is not corrected for pressure. Bird &
    Hulstrom 1981, SERI/TR-642-761, without aerosol, with 3 mm of ozone and 1 cm of water. Their fit is made for
    zenith angles up to 85 deg; it falls to nothing at about 88.
    """
    water = WATER_CM * relative_air_mass
    water_passed = 1.0 - 2.4959 * water / (power(1.0 + 79.034 * water, 0.6828) + 6.385 * water)
    return max(level_wm2 * passed.ozone_frac * water_passed * passed.gases_frac * passed.downward_frac, 0.0)


@inlined
def hay_davies(dni_wm2: float, extra_wm2: float) -> float:
    """Return the anisotropy index: the share of the diffuse irradiance that comes from around the sun.

    Hay & Davies 1980 (Proc. First Canadian Solar Radiation Data Workshop, 59); a scalar. 0 at night.
    """
    return min(dni_wm2 / extra_wm2, 1.0)


def linke_turbidity(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, elevation_m: ArrayLike, utc_s: ArrayLike
) -> FloatArray:
    """Return the Linke turbidity of a truly clear day, about 1.5 to 5, without unit.

    The monthly climatology (Remund et al. 2003, carried by pvlib) is a mean over all days, brought from sea
    level to `elevation_m` by exp(-elevation / 8434.5 m) (the same source). Cloudless days have less vapour and
    haze: CLEAR_DAY_FRAC of the mean's excess over pure dry air, whose turbidity is 1, and at sea level at least
    1. On cloudless days of six places 0.6 serves places and seasons alike (0.54 to 0.61 with a place left out;
    0.70 days alike, most of them in one desert; benchmarks/clear_sky.py). The map's cells of 5 arc minutes are
    brought to sea level and smoothed over about 100 km: a day's haze spans regions, and single cells differ by
    10 % from their neighbours. Interpolated between the middles of the months. Place and time broadcast, for
    example (n,) and (d, n).
    """
    (latitude, longitude, elevation), time_s, shape = in_rows((latitude_deg, longitude_deg, elevation_m), utc_s)
    thinning = np.exp(-elevation / HAZE_SCALE_M) + 0.0 * (latitude + longitude)  # NaN without a place
    first_day, by_day = _climatology(latitude, longitude, time_s)
    turbidity = np.empty(time_s.shape)
    over_departures(
        lambda first, end: _fill_turbidity(first, end, thinning, by_day, first_day, time_s, turbidity),
        *time_s.shape,
    )
    return turbidity.reshape(shape)


@compiled
def _fill_turbidity(
    first: int,
    end: int,
    thinning: FloatArray,
    by_day: FloatArray,
    first_day: int,
    utc_s: FloatArray,
    turbidity: FloatArray,
) -> None:
    """Fill rows of a clear day's turbidity, (d, n), from that of all days at sea level, by_day (n, days)."""
    for i in range(first, end):
        for j in range(len(thinning)):
            if np.isnan(utc_s[i, j]):
                turbidity[i, j] = np.nan
            else:
                mean = thinning[j] * by_day[j, int(np.floor(utc_s[i, j] / 86_400.0)) - first_day]
                clear = max(CLEAR_DAY_FRAC * (mean - PURE_DRY_AIR), LEAST_AT_SEA_LEVEL * thinning[j])
                turbidity[i, j] = PURE_DRY_AIR + clear


def ground_altitude_m(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
    """Return the height of the ground in metres from a coarse world map (5 arc minutes, 28 m steps).

    pvlib's map; off by 100 m and more in mountains and along coasts. 0 where it has no data: at sea, and
    in the last cell on either side of the antimeridian.
    """
    latitude, longitude = np.broadcast_arrays(np.nan_to_num(latitude_deg), np.nan_to_num(longitude_deg))
    row = np.rint((90.0 - latitude) * CELLS_PER_DEG - 0.5).astype(np.int64).clip(0, 2159)
    column = np.rint((longitude + 180.0) * CELLS_PER_DEG - 0.5).astype(np.int64) % 4320
    cells, index = np.unique(row * 4320 + column, return_inverse=True)
    with _world_map("Altitude.h5") as world:
        altitude_m = _altitude_m(np.array([world[cell // 4320, cell % 4320] for cell in cells]))
    unknown = np.isnan(latitude_deg) | np.isnan(longitude_deg)
    return np.where(unknown, np.nan, altitude_m[index.reshape(row.shape)])


def _altitude_m(codes: NDArray[np.uint8]) -> FloatArray:
    return np.where(codes == 255, 0.0, codes * 28.0 - 450.0)


def _climatology(
    latitude_deg: FloatArray, longitude_deg: FloatArray, utc_s: FloatArray
) -> tuple[int, FloatArray]:
    """Return the first day since 1970 and the climatological turbidity at sea level from then on, (n, days)."""
    ends = (float(end.reduce(utc_s, axis=None, initial=np.nan)) for end in (np.fmin, np.fmax))
    first, last = (int(end // 86_400.0) if end == end else 0 for end in ends)
    date = np.arange(first, last + 1).astype("M8[D]")
    year = date.astype("M8[Y]")
    leap = (year + 1).astype("M8[D]") - year.astype("M8[D]") == np.timedelta64(366, "D")
    weights = _month_weights()[(date - year.astype("M8[D]")).astype(np.int64) + 366 * leap]
    return first, np.einsum("nm,dm->nd", _haze_months(latitude_deg, longitude_deg), weights)


def _haze_months(latitude_deg: FloatArray, longitude_deg: FloatArray) -> FloatArray:
    """Return the months' turbidity at sea level, (n, 12): linear between the middles of square degrees."""
    north = np.clip(np.nan_to_num(latitude_deg), -80.0, 80.0) - 0.5  # nearer to the poles nobody drives
    east = np.nan_to_num(longitude_deg) - 0.5
    row, column = np.floor(north).astype(np.int64), np.floor(east).astype(np.int64)
    total = np.zeros((len(row), 12))
    for up, right in ((0, 0), (0, 1), (1, 0), (1, 1)):
        weight = np.abs(1 - up - north + row) * np.abs(1 - right - east + column)
        squares, index = np.unique((90 + row + up) * 360 + (180 + column + right) % 360, return_inverse=True)
        months = [_square_months(*divmod(int(square), 360)) for square in squares]
        total += weight[:, None] * np.reshape(months, (-1, 12))[index]
    return total


def _square_months(row: int, column: int) -> FloatArray:
    """Return a square degree's months, (12,), counted from the south pole and from 180 degrees west."""
    return _block_months(row // BLOCK_DEG, column // BLOCK_DEG)[row % BLOCK_DEG, column % BLOCK_DEG]


@cache
def _block_months(row: int, column: int) -> FloatArray:
    """Return the months' mean turbidity of the square degrees of a block, at sea level, (10, 10, 12)."""
    cells = BLOCK_DEG * CELLS_PER_DEG
    south, west = 180 * CELLS_PER_DEG - row * cells, column * cells
    part = np.s_[south - cells : south, west : west + cells]
    with _world_map("LinkeTurbidities.h5") as world, _world_map("Altitude.h5") as ground:
        turbidity, altitude_m = world[part] / 20.0, _altitude_m(ground[part])
    at_sea_level = turbidity * np.exp(altitude_m / HAZE_SCALE_M)[..., None]
    squares = at_sea_level[::-1].reshape(BLOCK_DEG, CELLS_PER_DEG, BLOCK_DEG, CELLS_PER_DEG, 12)
    mean: FloatArray = squares.mean(axis=(1, 3))
    return mean


@cache
def _month_weights() -> FloatArray:
    """Return the months' weights on each day of an ordinary year, then of a leap year, (732, 12)."""
    rows = []
    for february in (28, 29):
        length = np.array([31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
        middle = np.concatenate(([-15.5], np.cumsum(length) - length / 2, [length.sum() + 15.5]))
        month = np.array([11, *range(12), 0])
        rows.append([np.interp(np.arange(1, 367), middle, month == m) for m in range(12)])
    return np.concatenate(rows, axis=1).T


@contextmanager
def _world_map(file: str) -> Iterator[h5py.Dataset]:
    """Open the one map in a file of pvlib's: rows from the north pole, columns from 180 degrees west."""
    with h5py.File(f"{pvlib_folder()}/data/{file}") as maps:
        yield next(iter(maps.values()))
