"""How often an hour or a day, parked, falls between low and high of `harvest`: a table by place.

    PYTHONPATH=. python benchmarks/day_coverage.py FOLDER [EVERY]

FOLDER is that of benchmarks/band_coverage.py; Payerne's June 2016 out of pvlib's source package is added. The
day's share of sunshine is stated as the cloud cover that goes with it (`--cloud-okta`), `--forecast known`.
Every day with 400 min of light over 5 degrees and at most 30 min missing, or every EVERY-th; of each one stop
(at Payerne six) of 30, 60 and 180 min anywhere in its light, and all of it. Due: 0.80.
"""

import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np

import routesolar as rs
from benchmarks.band_coverage import Station, read_station, station_of, sunshine_share
from benchmarks.clear_sky import parked
from routesolar.physics.clouds import okta_sun_out_prob
from tests.measured_days import PAYERNE, payerne_june

LEAST_LIGHT_MIN, MOST_MISSING_MIN = 400, 30
STOPS_MIN = (30, 60, 180, None)  # None: the whole day
SUNNY = 0.8
OKTAS = np.linspace(0, 8, 801)


class Days(NamedTuple):
    """Days judged: the stated share of sunshine; P10, what came, P90 and the expected over the clear day."""

    share: np.ndarray
    low: np.ndarray
    came: np.ndarray
    high: np.ndarray
    expected: np.ndarray

    def inside(self) -> np.ndarray:
        """Return which days lie within."""
        return (self.low <= self.came) & (self.came <= self.high)


def payerne() -> Station:
    """Return June 2016 at Payerne, by the minute."""
    starts = np.datetime64("2016-06-01", "s").astype(np.float64) + 86_400.0 * np.arange(30)
    return station_of("Payerne", PAYERNE, starts, payerne_june().ghi.to_numpy().reshape(30, 1440))


def judged(station: Station, every: int, stop_min: int | None, stops: int) -> Days:
    """Ask for every day of a station, or for every so many, or for stops in each."""
    rows, rng = [], np.random.default_rng(4)
    for day, share in list(enumerate(sunshine_share(station)))[::every]:
        lit = np.flatnonzero(np.isfinite(station.clear_wm2[day]))
        missing_min = np.isnan(station.ghi_wm2[day]).sum() * station.step_min
        if len(lit) * station.step_min < LEAST_LIGHT_MIN or missing_min > MOST_MISSING_MIN:
            continue
        okta = np.interp(-np.clip(share, 0.01, 0.99), -okta_sun_out_prob(OKTAS), OKTAS)
        sky = rs.Sky(name=f"okta {okta:.3f}", forecast="known")
        for first, count in _steps(station, lit, stop_min, stops, rng):
            ghi = station.ghi_wm2[day][first : first + count]
            start_utc_s = station.start_utc_s[day] + 60 * first * station.step_min
            duration_s = 86_000.0 if stop_min is None else 60.0 * stop_min
            said = parked(station.place, start_utc_s, sky, duration_s)
            came = np.nansum(np.maximum(ghi, 0)) * station.step_min / 60 / said.clear_whm2
            if stop_min is None or np.all(np.isfinite(ghi)):
                rows.append((share, said.low_frac, came, said.high_frac, said.expected_whm2 / said.clear_whm2))
    return Days(*np.array(rows).T)


def _steps(
    station: Station, lit: np.ndarray, stop_min: int | None, stops: int, rng: np.random.Generator
) -> list[tuple[int, int]]:
    """Return the first step and the number of steps of each stop in a day's light, or of the whole day."""
    if stop_min is None:
        return [(0, station.ghi_wm2.shape[1])]
    count = round(stop_min / station.step_min)
    return [(int(first), count) for first in rng.integers(lit[0], lit[-1] - count + 2, stops)]


def line(days: Days) -> str:
    """Return number and coverage of all days, of the sunny ones, by fifth, and what came less expected."""
    inside, sunny = days.inside(), days.share >= SUNNY
    fifth = np.minimum((days.share * 5).astype(int), 4)
    by_fifth = " ".join(f"{inside[fifth == n].mean():.2f}" if np.any(fifth == n) else "   -" for n in range(5))
    missed = (days.came - days.expected).mean()
    held = f"{len(inside):4d} {inside.mean():.2f} | {sunny.sum():3d} {inside[sunny].mean():.2f}"
    return f"{held} | {by_fifth} | {missed:+.3f}"


def main(folder: Path, every: int) -> None:
    """Print the table."""
    print("place | stops held | of sunny days held | by fifth of the share | came less expected, of clear")
    places = [payerne(), *map(read_station, sorted(folder.glob("*.npz")))]
    for stop_min in STOPS_MIN:
        print("whole days" if stop_min is None else f"{stop_min} min")
        found = []
        for place in places:
            few = place.name == "Payerne"
            found.append(judged(place, 1 if few else every, stop_min, 6 if few else 1))
            print(f"{place.name[:18]:18} |", line(found[-1]), flush=True)
        print(f"{'together':18} |", line(Days(*(np.concatenate(parts) for parts in zip(*found, strict=True)))))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
