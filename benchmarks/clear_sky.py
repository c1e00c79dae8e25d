"""What `--sky clear` says of a day parked at a station, beside cloudless days as measured: a table.

    python benchmarks/clear_sky.py FOLDER

FOLDER is that of benchmarks/band_coverage.py; the year is 2018. A day is cloudless when its irradiance over our
clear sky is smooth while the sun is above 10 degrees (no step over 0.035, standard deviation up to 0.03), at
whatever level above 0.7 (below, an instrument failed or fog lay all day). Errors are ours less measured, in
percent of a day's global irradiation.
"""

import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

import numpy as np

import routesolar as rs
from benchmarks.band_coverage import SEASON_NAMES, Station, read_station

MOST_STEP, MOST_SD, LEAST_SHARE = 0.035, 0.03, 0.7
LEAST_CLEAR_WM2 = 150.0  # about 10 degrees of sun
PANEL_W = 1000.0
ROUTE = """<gpx version="1.1" creator="benchmark" xmlns="http://www.topografix.com/GPX/1/1"><rte>
<rtept lat="{0}" lon="{1}"><ele>{2}</ele></rtept><rtept lat="{3}" lon="{1}"><ele>{2}</ele></rtept>
</rte></gpx>"""


class Said(NamedTuple):
    """What is said of a day parked: Wh/m2 expected and of the clear sky, and P10, P90 over clear."""

    expected_whm2: float
    clear_whm2: float
    low_frac: float
    high_frac: float


def parked_day(place: tuple[float, float, float], start_utc_s: float, sky: rs.Sky) -> Said:
    """Return what a level panel gets, parked for a day from `start_utc_s` at latitude, longitude and height."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "stop.gpx"
        path.write_text(ROUTE.format(*place, place[0] + 1e-4), encoding="utf-8")
        route = rs.read_route([path])
    stop = rs.Stop(at="0km", at_m=0.0, duration_s=86_000.0)
    parked = rs.drive(route, start_utc_s, plan=rs.Plan(speed_mps=10.0, stops=(stop,)))
    rig = rs.Rig(panels=(rs.Panel(rated_w=PANEL_W),))
    around = rs.Canopy.open(parked.count), rs.Terrain.flat(parked.count)
    harvest = rs.simulate(parked, rig, *around, [sky])
    clear_wh, totals = harvest.totals.clear_sky_wh, harvest.totals
    return Said(
        float((harvest.ghi_wm2 * parked.duration_s[0]).sum() / 3600),
        harvest.rated_clear_wh * 1000 / PANEL_W,
        totals.energy_low_wh / clear_wh,
        totals.energy_high_wh / clear_wh,
    )


def cloudless(station: Station) -> np.ndarray:
    """Return which days are cloudless: lit steps all measured, and smooth."""
    found = []
    for ghi, clear in zip(station.ghi_wm2, station.clear_wm2, strict=True):
        high = clear > LEAST_CLEAR_WM2
        share = ghi[high] / clear[high]
        whole = np.flatnonzero(high)
        unbroken = len(whole) > 60 and np.ptp(whole) + 1 == len(whole)
        smooth = unbroken and np.abs(np.diff(share)).max() < MOST_STEP and share.std() < MOST_SD
        found.append(smooth and share.mean() > LEAST_SHARE)
    return np.array(found)


def judged(station: Station) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the errors in percent, whether the day lay within P10-P90, and the season, of cloudless days."""
    errors, held = [], []
    days = np.flatnonzero(cloudless(station))
    for day in days:
        said = parked_day(station.place, station.start_utc_s[day], rs.Sky(name="clear"))
        came_whm2 = float(np.nansum(np.maximum(station.ghi_wm2[day], 0)) * station.step_min / 60)
        errors.append(100 * (said.expected_whm2 / came_whm2 - 1))
        held.append(said.low_frac <= came_whm2 / said.clear_whm2 <= said.high_frac)
    return np.array(errors), np.array(held), station.season[days]


def line(errors: np.ndarray, held: np.ndarray) -> str:
    """Return the number of days, mean error and rms error in percent, and the share within P10-P90."""
    if not len(errors):
        return "   0"
    return f"{len(errors):4d}  {errors.mean():+6.1f} {np.sqrt(np.mean(errors**2)):6.1f}   {held.mean():.2f}"


def main(folder: Path) -> None:
    """Print the table."""
    print(f"{'':24}days   mean %  rms %  within P10-P90")
    for station in map(read_station, sorted(folder.glob("*.npz"))):
        errors, held, season = judged(station)
        for number, word in enumerate(SEASON_NAMES):
            print(f"{station.name[:18]:18} {word}  {line(errors[season == number], held[season == number])}")
        print(f"{station.name[:18]:18} all  {line(errors, held)}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
