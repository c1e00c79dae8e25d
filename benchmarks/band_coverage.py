"""How often measured energy falls between P10 and P90: a table by window, forecast, share, season and station.

    python benchmarks/band_coverage.py FOLDER

FOLDER holds one .npz file a station: `ghi_dwm2` (days, 288) in tenths of W/m2 for the five-minute steps of 2018
from 00:00 UTC, -1 where missing, and `latitude_deg`, `longitude_deg`, `elevation_m`. Clear is the clear sky
that every drive gets. Due: 0.80.

A statement of the day's sunshine share (steps above 0.8 of clear) is made from the truth plus a random error,
in three manners: "fair", right on average for everything that is stated (the mean of the station's days
given the noisy view); "shrunk", drawn to the station's mean by the error's weight; "raw", the noisy view cut
to 0-1. Fair and shrunk are what the forecast words mean; raw shows what overconfidence costs.
"""

import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np

from routesolar.physics.clear_sky import clear_sky_along
from routesolar.physics.clouds import energy_share_bands
from routesolar.physics.sky import linke_turbidity
from routesolar.physics.sun import sun_position

WINDOWS_MIN = (10, 30, 60, 180, None)  # None: the whole day
ERRORS = {"known": 0.0, "today": 0.12, "tomorrow": 0.20, "week": 0.30}
MANNERS = ("fair", "shrunk", "raw")
LEAST_CLEAR_WM2 = 50.0  # about 5 degrees of sun
SUN_OUT_SHARE = 0.8
SEASON_NAMES = ("DJF", "MAM", "JJA", "SON")


class Station(NamedTuple):
    """Days of one station in local solar time, W/m2; `clear_wm2` is NaN by night and where data are missing.

    `place` is latitude, longitude and height; `start_utc_s` the beginning of each day.
    """

    name: str
    place: tuple[float, float, float]
    start_utc_s: np.ndarray
    ghi_wm2: np.ndarray
    clear_wm2: np.ndarray
    season: np.ndarray
    step_min: float


class Cases(NamedTuple):
    """Windows judged: what was stated, what came, and the bands."""

    stated: np.ndarray
    came: np.ndarray
    p10: np.ndarray
    p50: np.ndarray
    p90: np.ndarray
    season: np.ndarray

    def inside(self) -> np.ndarray:
        """Return whether each window's energy fell between P10 and P90."""
        return (self.came >= self.p10) & (self.came <= self.p90)


def shipped_clear_wm2(place: tuple[float, float, float], utc_s: np.ndarray) -> np.ndarray:
    """Return the global irradiance of the clear sky that every drive gets at a place, (n,)."""
    sun = sun_position(*(np.array([value]) for value in place), utc_s[:, None])
    turbidity = linke_turbidity(*place, utc_s)[:, None]
    azimuth_deg, elevation_deg = sun.azimuth_deg, sun.apparent_elevation_deg
    return clear_sky_along(
        azimuth_deg, elevation_deg, np.array(place[2:]), turbidity, sun.earth_sun_au
    ).ghi_wm2[:, 0]


def station_of(
    name: str, place: tuple[float, float, float], start_utc_s: np.ndarray, ghi_wm2: np.ndarray
) -> Station:
    """Return the station of days (d, k) of global irradiance, each k equal steps from its start."""
    days, steps = ghi_wm2.shape
    step_s = 86_400 / steps
    utc_s = start_utc_s[:, None] + (np.arange(steps) + 0.5) * step_s
    clear = shipped_clear_wm2(place, utc_s.ravel()).reshape(days, steps)
    lit = np.isfinite(ghi_wm2) & (clear > LEAST_CLEAR_WM2)
    month = start_utc_s.astype("M8[s]").astype("M8[M]").astype(int) % 12
    season = (month + 1) % 12 // 3
    return Station(name, place, start_utc_s, ghi_wm2, np.where(lit, clear, np.nan), season, step_s / 60)


def read_station(path: Path) -> Station:
    """Read one file, its days turned to local solar time (without the first and last, which the turn cuts)."""
    stored = np.load(path)
    latitude, longitude, height = (
        float(stored[key]) for key in ("latitude_deg", "longitude_deg", "elevation_m")
    )
    steps = round(longitude / 15 * 12)
    ghi = np.where(stored["ghi_dwm2"] < 0, np.nan, stored["ghi_dwm2"] / 10.0)
    days = np.roll(ghi.ravel(), steps).reshape(-1, 288)[1:-1]
    first = np.datetime64("2018-01-02", "s").astype(np.float64) - 300.0 * steps
    starts = first + 86_400.0 * np.arange(len(days))
    return station_of(path.stem, (latitude, longitude, height), starts, days)


def sunshine_share(station: Station) -> np.ndarray:
    """Return the share of every day's steps with the sun out."""
    lit = np.isfinite(station.clear_wm2)
    out = lit & (station.ghi_wm2 > SUN_OUT_SHARE * station.clear_wm2)
    return out.sum(axis=1) / lit.sum(axis=1)


def statements(share: np.ndarray, error: float, manner: str, rng: np.random.Generator) -> np.ndarray:
    """Return what is stated of days with these shares, by a forecaster of this error and manner."""
    if error == 0:
        return share
    view = share + rng.normal(0, error, share.shape)
    if manner == "shrunk":
        weight = share.var() / (share.var() + error**2)
        view = share.mean() + weight * (view - share.mean())
    elif manner == "fair":
        likely = np.exp(-0.5 * ((view[:, None] - share[None, :]) / error) ** 2)
        view = likely @ share / likely.sum(axis=1)
    return np.clip(view, 0, 1)


def day_windows(station: Station, day: int, window_min: float | None) -> tuple[np.ndarray, float]:
    """Return the energy of a day's windows as shares of clear, and their length in minutes."""
    lit = np.isfinite(station.clear_wm2[day])
    ghi, clear = station.ghi_wm2[day][lit], station.clear_wm2[day][lit]
    length = len(ghi) if window_min is None else round(window_min / station.step_min)
    count = len(ghi) // length
    first = (len(ghi) - count * length) // 2
    cut = slice(first, first + count * length)
    sums = (values[cut].reshape(count, length).sum(axis=1) for values in (ghi, clear))
    return np.divide(*sums), length * station.step_min


def judge(station: Station, window_min: float | None, forecast: str, manner: str, rounds: int = 3) -> Cases:
    """Return all windows of a station's days under one forecast word, each day stated `rounds` times."""
    share = sunshine_share(station)
    windows = [day_windows(station, day, window_min) for day in range(len(share))]
    minutes = np.array([length for _, length in windows])
    day_of = np.repeat(np.arange(len(share)), [len(shares) for shares, _ in windows])
    came = np.concatenate([shares for shares, _ in windows])
    rng = np.random.default_rng(1)
    stated, bands = [], []
    for _ in range(1 if forecast == "known" else rounds):
        today = statements(share, ERRORS[forecast], manner, rng)
        stated.append(today[day_of])
        bands.append([band[day_of] for band in energy_share_bands(today, minutes, forecast)])
    p10, p50, p90 = np.concatenate(bands, axis=1)
    repeated = (np.tile(values, len(stated)) for values in (came, station.season[day_of]))
    came, season = repeated
    return Cases(np.concatenate(stated), came, p10, p50, p90, season)


def joined(parts: list[Cases]) -> Cases:
    """Return the cases of several stations as one."""
    return Cases(*(np.concatenate(arrays) for arrays in zip(*parts, strict=True)))


def shares_inside(cases: Cases, group: np.ndarray, groups: int) -> str:
    """Return the coverage within each group, "-" where a group has fewer than 30 windows."""
    inside = cases.inside()
    sizes = np.bincount(group, minlength=groups)
    hits = np.bincount(group, weights=inside, minlength=groups)
    return " ".join(
        f"{hit / size:.2f}" if size >= 30 else "   -" for hit, size in zip(hits, sizes, strict=True)
    )


def line(per_station: list[Cases]) -> str:
    """Return one row of the table."""
    cases = joined(per_station)
    fifth = np.minimum((cases.stated * 5).astype(int), 4)
    missed = cases.came - cases.p50
    columns = (
        f"{cases.inside().mean():.2f}",
        shares_inside(cases, fifth, 5),
        shares_inside(cases, cases.season, 4),
        " ".join(f"{part.inside().mean():.2f}" for part in per_station),
        f"{(cases.p90 - cases.p10).mean():.2f}",
        f"{missed.mean():+.3f} {np.median(missed):+.3f} {(missed < 0).mean():.2f}",
    )
    return " | ".join(columns)


def main() -> None:
    """Print the table of a folder of stations."""
    stations = [read_station(path) for path in sorted(Path(sys.argv[1]).glob("*.npz"))]
    print("stations:", ", ".join(station.name for station in stations))
    print(
        "manner forecast window | all | stated 0-.2 .. .8-1 | ",
        " ".join(SEASON_NAMES),
        "| by station | mean width | came less P50: mean, median, share below",
    )
    for manner in MANNERS:
        for forecast in ERRORS:
            if forecast == "known" and manner != MANNERS[0]:
                continue
            for window_min in WINDOWS_MIN:
                parts = [judge(station, window_min, forecast, manner) for station in stations]
                print(f"{manner:6s} {forecast:8s} {window_min or 'day'!s:>4s} |", line(parts))


if __name__ == "__main__":
    main()
