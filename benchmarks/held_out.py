"""How often the bands hold at stations and in seasons that nothing was fitted to: a table.

    PYTHONPATH=. python benchmarks/held_out.py FOLDER

FOLDER is that of benchmarks/band_coverage.py. Fitted anew without what is judged: the haze of clear days (the
turbidity's share and a day's scatter, see benchmarks/clear_sky.py), and the brightness of both states by the
day's sunshine. Taken as they are: how fast the sky forgets, how sure each word is. Stations are also judged by
Payerne's month alone, whose two clear days say nothing of the scatter.
"""

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch

import numpy as np

from benchmarks.band_coverage import (
    SEASON_NAMES,
    WINDOWS_MIN,
    Cases,
    Station,
    joined,
    judge,
    station_of,
    sunshine_share,
)
from benchmarks.clear_sky import BRIEF_SD, cloudless_days, errors_of, fitted_frac
from benchmarks.day_coverage import payerne
from routesolar.physics import bands, clouds
from routesolar.physics import sky as clear_sky

SUNNY = 0.8
Places = list[tuple[Station, np.ndarray]]


class Fit(NamedTuple):
    """What is fitted anew."""

    clear_day_frac: float
    out_least: float
    hidden_least: float
    hidden_rise: float
    haze_sd: float


def fitted(stations: list[Station], places: Places, haze_of: Places) -> Fit:
    """Fit turbidity to the cloudless days of places, levels to stations, the scatter to some of the places."""
    frac = fitted_frac(places)
    with patch.object(clear_sky, "CLEAR_DAY_FRAC", frac):
        levels = _levels([renewed(station) for station in stations])
    squares = [np.mean(np.log1p(np.concatenate(errors_of([place], frac))) ** 2) for place in haze_of]
    haze_sd = float(np.sqrt(np.mean(squares) - BRIEF_SD**2)) if squares else bands.HAZE_SD
    return Fit(frac, *levels, haze_sd)


def renewed(station: Station) -> Station:
    """Return the station over the clear sky as it is now."""
    return station_of(station.name, station.place, station.start_utc_s, station.ghi_wm2)


def _levels(stations: list[Station]) -> tuple[float, float, float]:
    """Return out_least (the line ends at 1), hidden_least and hidden_rise; each station counts alike."""
    out_rows, day_rows = [], []
    for station in stations:
        share = np.clip(sunshine_share(station), 0.01, 0.99)
        lit = np.isfinite(station.clear_wm2)
        out = lit & (station.ghi_wm2 > 0.8 * station.clear_wm2)
        ghi, clear = (np.where(lit, values, 0.0) for values in (station.ghi_wm2, station.clear_wm2))
        used = (out.sum(axis=1) > 0) & (share > 0.05)
        bright = (ghi * out).sum(axis=1)[used] / (clear * out).sum(axis=1)[used]
        out_rows.append((share[used], bright, np.sqrt(share[used] / share[used].sum())))
        whole = clear.sum(axis=1) > 0
        day = ghi.sum(axis=1)[whole] / clear.sum(axis=1)[whole]
        day_rows.append((share[whole], day, np.full(whole.sum(), whole.sum() ** -0.5)))
    share, bright, weight = np.concatenate(out_rows, axis=1)
    least = np.sum((1 - share) * (bright - share) * weight**2) / np.sum(((1 - share) * weight) ** 2)
    share, day, weight = np.concatenate(day_rows, axis=1)
    hidden = np.stack([1 - share, share * (1 - share)], axis=1) * weight[:, None]
    rest = (day - share * (least + (1 - least) * share)) * weight
    return float(least), *map(float, np.linalg.lstsq(hidden, rest, rcond=None)[0])


@contextmanager
def shipped_as(fit: Fit) -> Iterator[None]:
    """Let the clear sky, the states and the bands be those of a fit."""

    def bands_wh(energy, passage, parts, forecast):  # type: ignore[no-untyped-def]
        moments = bands.energy_moments(energy, passage, parts, forecast)
        wider = moments.mean_wh**2 * (fit.haze_sd**2 - bands.HAZE_SD**2)
        unobscured_wh = np.sum(energy.unobscured_wh, axis=1, keepdims=True)
        higher = bands.HAZE_TOP * (fit.haze_sd - bands.HAZE_SD) * unobscured_wh
        return bands.beta_percentiles(
            moments.mean_wh, moments.variance_wh2 + wider, moments.low_wh, moments.high_wh + higher
        )

    changed = {
        "OUT_LEAST": fit.out_least,
        "OUT_RISE": 1 - fit.out_least,
        "HIDDEN_LEAST": fit.hidden_least,
        "HIDDEN_RISE": fit.hidden_rise,
        "energy_bands_wh": bands_wh,
    }
    with ExitStack() as stack:
        stack.enter_context(patch.object(clear_sky, "CLEAR_DAY_FRAC", fit.clear_day_frac))
        for name, value in changed.items():
            stack.enter_context(patch.object(clouds, name, value))
        yield


def held(stations: list[Station], fit: Fit, forecast: str, season: int | None = None) -> str:
    """Return the coverage by window, of all and of the sunny days."""
    every, sunny = [], []
    with shipped_as(fit):
        now = [renewed(station) for station in stations]
        for window_min in WINDOWS_MIN:
            cases: Cases = joined([judge(station, window_min, forecast, "fair") for station in now])
            inside, asked = cases.inside(), (season is None) | (cases.season == season)
            every.append(f"{inside[asked].mean():.2f}")
            sunny.append(f"{inside[asked & (cases.stated >= SUNNY)].mean():.2f}")
    return f"{' '.join(every)} | sunny {' '.join(sunny)}"


def without_season(place: tuple[Station, np.ndarray], season: int) -> tuple[Station, np.ndarray]:
    """Return a place's station and cloudless days, none of them in a season."""
    station, days = place
    kept = station.season != season
    days = np.cumsum(kept)[days[kept[days]]] - 1
    arrays = (station.start_utc_s[kept], station.ghi_wm2[kept])
    return station_of(station.name, station.place, *arrays), days


def main(folder: Path) -> None:
    """Print the table."""
    places = cloudless_days(folder)
    of_folder = places[: len(list(folder.glob("*.npz")))]
    stations, month = [station for station, _ in of_folder], payerne()
    print("judged, word | 10 30 60 180 min, day")
    jobs: list[tuple[str, list[Station], Fit, int | None]] = []
    for station in stations:
        others = [place for place in of_folder if place[0] is not station]
        fit = fitted([other for other, _ in others], [p for p in places if p[0] is not station], others)
        jobs.append((station.name[:14], [station], fit, None))
    elsewhere = [place for place in places if place[0].name != "Payerne"]
    jobs.append(("Payerne", [month], fitted(stations, elsewhere, of_folder), None))
    jobs.append(("all by Payerne", stations, fitted([month], places[len(of_folder) :], []), None))
    for season, name in enumerate(SEASON_NAMES):
        kept = [without_season(place, season) for place in places]
        kept = [place for place in kept if len(place[1])]
        of_kept = [place for place in kept if place[0].name in {station.name for station in stations}]
        jobs.append((name, stations, fitted([station for station, _ in of_kept], kept, of_kept), season))
    for name, judged, fit, season in jobs:
        print(name, " ".join(f"{key} {value:.3f}" for key, value in fit._asdict().items()))
        for forecast in ("known", "tomorrow"):
            print(f"   {forecast:8s} | {held(judged, fit, forecast, season)}", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
