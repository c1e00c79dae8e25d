"""What `--sky clear` says of a day parked, beside cloudless days as measured: a table by place and season.

    PYTHONPATH=. python benchmarks/clear_sky.py FOLDER

FOLDER is that of benchmarks/band_coverage.py; the year is 2018. A day is cloudless when its irradiance over our
clear sky is smooth while the sun is above 10 degrees: no step over 0.035, standard deviation about a parabola
up to 0.015, at whatever level above 0.7 (below, an instrument failed or fog lay all day). The cloudless days in
pvlib's source package are added as they are known. Errors are ours less measured, in percent of a day's global
irradiation.

Then what the days say of two numbers: the share of the turbidity's excess over dry air that is left on clear
days (sky.CLEAR_DAY_FRAC), and a day's haze (bands.HAZE_SD): the root mean square of the logarithm of measured
over expected at the stations of FOLDER, each counted alike, less what the few clouds and brighter moments of
such days make.
"""

import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize_scalar

import routesolar as rs
from benchmarks.band_coverage import SEASON_NAMES, Station, read_station, shipped_clear_wm2, station_of
from routesolar.physics import sky as clear_sky
from routesolar.physics.clouds import SCENARIOS
from tests.measured_days import ALAMOSA, PAYERNE, TUCSON, alamosa_day, payerne_june, tucson_day

MOST_STEP, MOST_SD, LEAST_SHARE = 0.035, 0.015, 0.7
LEAST_CLEAR_WM2 = 150.0  # about 10 degrees of sun
PANEL_W = 1000.0
BRIEF_SD = 0.012  # of a clear day of 11 hours, by energy_share_bands of .97 without haze
KNOWN_DAYS = [
    ("Payerne", PAYERNE, payerne_june, "2016-06-23 00:00"),
    ("Payerne", PAYERNE, payerne_june, "2016-06-27 00:00"),
    ("Alamosa", ALAMOSA, alamosa_day, "2016-01-01 00:00"),
    ("Tucson", TUCSON, tucson_day, "2018-10-18 07:00"),
]
ROUTE = """<gpx version="1.1" creator="benchmark" xmlns="http://www.topografix.com/GPX/1/1"><rte>
<rtept lat="{0}" lon="{1}"><ele>{2}</ele></rtept><rtept lat="{3}" lon="{1}"><ele>{2}</ele></rtept>
</rte></gpx>"""


class Said(NamedTuple):
    """What is said of a day parked: Wh/m2 expected and of the clear sky, and P10, P90 over clear.

    The percentiles are of the panel's energy, which is not in proportion to the irradiation (cool cells under
    clouds do better): as shares of its expected energy they are taken over to the expected irradiation.
    """

    expected_whm2: float
    clear_whm2: float
    low_frac: float
    high_frac: float


def parked(
    place: tuple[float, float, float], start_utc_s: float, sky: rs.Sky, duration_s: float = 86_000.0
) -> Said:
    """Return what a level panel gets, parked at latitude, longitude and height, for a day if not said."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "stop.gpx"
        path.write_text(ROUTE.format(*place, place[0] + 1e-4), encoding="utf-8")
        route = rs.read_route([path])
    stop = rs.Stop(at="0km", at_m=0.0, duration_s=duration_s)
    drive = rs.drive(route, start_utc_s, plan=rs.Plan(speed_mps=10.0, stops=(stop,)))
    rig = rs.Rig(panels=(rs.Panel(rated_w=PANEL_W),))
    around = rs.Canopy.open(drive.count), rs.Terrain.flat(drive.count)
    harvest = rs.simulate(drive, rig, *around, [sky])
    expected_whm2 = float((harvest.ghi_wm2 * drive.duration_s[0]).sum() / 3600)
    clear_whm2 = harvest.rated_clear_wh * 1000 / PANEL_W
    per_wh = expected_whm2 / clear_whm2 / harvest.totals.energy_wh
    low_frac, high_frac = harvest.totals.energy_low_wh * per_wh, harvest.totals.energy_high_wh * per_wh
    return Said(expected_whm2, clear_whm2, low_frac, high_frac)


def cloudless(station: Station) -> np.ndarray:
    """Return which days are cloudless: lit steps all measured, and smooth."""
    found = []
    for ghi, clear in zip(station.ghi_wm2, station.clear_wm2, strict=True):
        high = clear > LEAST_CLEAR_WM2
        share = ghi[high] / clear[high]
        whole = np.flatnonzero(high)
        unbroken = len(whole) > 60 and np.ptp(whole) + 1 == len(whole)
        smooth = unbroken and np.abs(np.diff(share)).max() < MOST_STEP and about_a_parabola(share) < MOST_SD
        found.append(smooth and share.mean() > LEAST_SHARE)
    return np.array(found)


def about_a_parabola(share: np.ndarray) -> float:
    """Return the standard deviation about the parabola that fits best, which follows what haze does slowly."""
    time = np.linspace(-1, 1, len(share))
    return float(np.std(share - np.polynomial.Polynomial.fit(time, share, 2)(time)))


def known_station(name: str, days: list[str]) -> Station:
    """Return the days of a place that are known to be cloudless, in minutes of universal time."""
    _, place, minutes, _ = next(known for known in KNOWN_DAYS if known[0] == name)
    starts = np.array(days, dtype="M8[s]")
    frame = minutes()
    frame = frame.set_index(frame.index.tz_convert("UTC").tz_localize(None))
    ghi = [frame.ghi.reindex(start + np.arange(1440).astype("m8[m]")).to_numpy() for start in starts]
    return station_of(name, place, starts.astype(np.float64), np.array(ghi))


def cloudless_days(folder: Path) -> list[tuple[Station, np.ndarray]]:
    """Return all places with the numbers of their cloudless days, those of the folder first."""
    stations = [read_station(path) for path in sorted(folder.glob("*.npz"))]
    found = [(station, np.flatnonzero(cloudless(station))) for station in stations]
    for name in dict.fromkeys(known[0] for known in KNOWN_DAYS):
        station = known_station(name, [known[3] for known in KNOWN_DAYS if known[0] == name])
        found.append((station, np.arange(len(station.ghi_wm2))))
    return found


def came_whm2(station: Station, day: int) -> float:
    """Return a day's global irradiation as measured."""
    return float(np.nansum(np.maximum(station.ghi_wm2[day], 0)) * station.step_min / 60)


def judged(station: Station, days: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the errors in percent, whether the day lay within P10-P90, and the season, of cloudless days."""
    errors, held = [], []
    for day in days:
        said = parked(station.place, station.start_utc_s[day], rs.Sky(name="clear"))
        came = came_whm2(station, day)
        errors.append(100 * (said.expected_whm2 / came - 1))
        held.append(said.low_frac <= came / said.clear_whm2 <= said.high_frac)
    return np.array(errors), np.array(held), station.season[days]


def line(errors: np.ndarray, held: np.ndarray) -> str:
    """Return the number of days, mean error and rms error in percent, and the days within P10-P90."""
    if not len(errors):
        return "   0"
    return f"{len(errors):4d}  {errors.mean():+6.1f} {np.sqrt(np.mean(errors**2)):6.1f}   {held.sum():3d}"


def errors_of(places: list[tuple[Station, np.ndarray]], clear_day_frac: float) -> list[np.ndarray]:
    """Return the error of `clear` by place and season if that share of the excess were left, as shares."""
    shipped, clear_sky.CLEAR_DAY_FRAC = clear_sky.CLEAR_DAY_FRAC, clear_day_frac
    cells = []
    for station, days in places:
        utc_s = station.start_utc_s[days, None] + (np.arange(288) + 0.5) * 300.0
        clear_wm2 = shipped_clear_wm2(station.place, utc_s.ravel()).reshape(utc_s.shape)
        came = np.array([came_whm2(station, day) for day in days])
        errors = SCENARIOS["clear"].mean_share * clear_wm2.sum(axis=1) / 12 / came - 1
        cells += [errors[station.season[days] == n] for n in np.unique(station.season[days])]
    clear_sky.CLEAR_DAY_FRAC = shipped
    return cells


def fitted_frac(places: list[tuple[Station, np.ndarray]], by_day: bool = False) -> float:
    """Return the share that leaves the least mean square error of places and seasons, or of days, alike."""

    def loss(frac: float) -> float:
        cells = errors_of(places, frac)
        means = np.concatenate(cells) if by_day else np.array([cell.mean() for cell in cells])
        return float(np.mean(means**2))

    return float(minimize_scalar(loss, bounds=(0.3, 1.0), method="bounded", options={"xatol": 0.005}).x)


def main(folder: Path) -> None:
    """Print the table, then what the days say of turbidity and haze."""
    places = cloudless_days(folder)
    print(f"{'':24}days   mean %  rms %  days within P10-P90")
    everything = []
    for station, days in places:
        errors, held, season = judged(station, days)
        everything.append((errors, held))
        for number, word in enumerate(SEASON_NAMES):
            if np.any(season == number):
                print(
                    f"{station.name[:18]:18} {word}  {line(errors[season == number], held[season == number])}"
                )
        print(f"{station.name[:18]:18} all  {line(errors, held)}")
    by_place = np.array([errors.mean() for errors, _ in everything])
    rms = np.sqrt(np.mean([np.mean(errors**2) for errors, _ in everything]))
    print(f"places alike: mean {by_place.mean():+.1f} %, rms of days {rms:.1f} %")
    cells = 100 * np.array([cell.mean() for cell in errors_of(places, clear_sky.CLEAR_DAY_FRAC)])
    print(f"places and seasons alike: mean {cells.mean():+.1f} %, rms {np.sqrt(np.mean(cells**2)):.1f} %")
    print("days alike:", line(*(np.concatenate(parts) for parts in zip(*everything, strict=True))))
    print_numbers(places, [errors for errors, _ in everything[: len(list(folder.glob("*.npz")))]])


def print_numbers(places: list[tuple[Station, np.ndarray]], of_stations: list[np.ndarray]) -> None:
    """Print turbidity's share, of all and of all but one place with that one's error, and the haze."""
    print(f"share of the excess: {fitted_frac(places):.2f}, by day {fitted_frac(places, by_day=True):.2f}")
    for place in places:
        frac = fitted_frac([other for other in places if other is not place])
        error = 100 * np.concatenate(errors_of([place], frac))
        print(f"  without {place[0].name[:18]:18} {frac:.2f}, error there {error.mean():+.1f} %")
    squares = np.array([np.mean(np.log1p(errors / 100) ** 2) for errors in of_stations])
    print(f"haze: {np.sqrt(squares.mean() - BRIEF_SD**2):.3f}, stations", np.round(np.sqrt(squares), 3))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
