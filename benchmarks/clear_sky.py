"""How bright our clear sky is in clear two-hour spells, beside measurements: a table by station and season.

    python benchmarks/clear_sky.py FOLDER

FOLDER is that of benchmarks/band_coverage.py, with `latitude_deg` and `elevation_m` too; the year is 2018.
A spell is clear when measured over McClear is steady (no step and no standard deviation over 0.02) with a
median of 0.85 to 1.1; both clear skies are then judged against the measurement.
"""

import sys
from pathlib import Path

import numpy as np

from routesolar.physics import sky, sun

STEPS = 24  # two hours of five minutes
STEADY = 0.02
SEASON_NAMES = ("DJF", "MAM", "JJA", "SON")


def our_clear_sky_wm2(stored: np.lib.npyio.NpzFile) -> np.ndarray:
    """Return our clear ghi at the middle of every five-minute step of 2018."""
    place = [float(stored[key]) for key in ("latitude_deg", "longitude_deg", "elevation_m")]
    first = np.datetime64("2018-01-01", "s").astype(np.float64)
    utc = first + 300.0 * np.arange(stored["ghi_dwm2"].size) + 150.0
    position = sun.sun_position(*place, utc)
    extra = sky.extraterrestrial_wm2(position.earth_sun_au)
    steps = zip(position.apparent_elevation_deg, sky.linke_turbidity(*place, utc), extra, strict=True)
    return np.array([sky.clear_sky_wm2(up, place[2], haze, above)[0] for up, haze, above in steps])


def clear_spells(ghi_wm2: np.ndarray, mcclear_wm2: np.ndarray) -> list[slice]:
    """Return the spells in time order, none overlapping; no missing datum and no night within."""
    known = np.where((ghi_wm2 >= 0) & (mcclear_wm2 > 50), ghi_wm2, np.nan)
    ratio = known / mcclear_wm2
    spells, start = [], 0
    while start + STEPS <= len(ratio):
        part = ratio[start : start + STEPS]
        steady = np.abs(np.diff(part)).max() < STEADY and part.std() < STEADY
        if steady and 0.85 < np.median(part) < 1.1:
            spells.append(slice(start, start + STEPS))
            start += STEPS
        else:
            start += 1
    return spells


def errors(path: Path) -> tuple[np.ndarray, np.ndarray]:
    """Return (spells, 3) energy as measured, ours and McClear's in W/m2, and the spells' seasons."""
    stored = np.load(path)
    ghi, mcclear = (stored[key].ravel() / 10.0 for key in ("ghi_dwm2", "clear_ghi_dwm2"))
    ours = our_clear_sky_wm2(stored)
    spells = clear_spells(ghi, np.where(mcclear > 0, mcclear, np.nan))
    days = np.array([spell.start // 288 for spell in spells])
    energy = np.array([[series[spell].mean() for series in (ghi, ours, mcclear)] for spell in spells])
    return energy, (days * 12 // 365 + 1) % 12 // 3


def line(energy: np.ndarray) -> str:
    """Return the number of spells, and of both clear skies the error of the sum and of single spells."""
    total = energy.sum(axis=0)
    single = np.sqrt(np.mean((energy[:, 1:] / energy[:, :1] - 1) ** 2, axis=0))
    cells = (f"{100 * (total[i] / total[0] - 1):+6.1f} {100 * single[i - 1]:6.1f}" for i in (1, 2))
    return f"{len(energy):6d}  " + "  ".join(cells)


def main(folder: Path) -> None:
    """Print the table."""
    print(f"{'':24}spells  ours % single  McClear % single")
    found = {path.stem: errors(path) for path in sorted(folder.glob("*.npz"))}
    for name, (energy, season) in found.items():
        for number, word in enumerate(SEASON_NAMES):
            print(f"{name[:18]:18} {word}  {line(energy[season == number])}")
        print(f"{name[:18]:18} all  {line(energy)}")
    print(f"{'all stations':18} all  {line(np.concatenate([energy for energy, _ in found.values()]))}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
