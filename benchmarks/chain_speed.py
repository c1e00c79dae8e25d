"""The chain beside flattened pvlib and beside pvlib point by point, taking turns; and how it grows."""

import resource
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from statistics import median

import numba
import numpy as np

from benchmarks.chain import POINTS, RIG, SKIES, hilly_drive, ours_wh, theirs_wh
from benchmarks.decisions import QUARTERS, leaving, wood
from benchmarks.naive import seconds_a_point
from routesolar.model.sweeping import sweep
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

TURNS = 3
LATITUDES_DEG = (0.0, 48.0, 66.0, -35.0)
SEASONS_DAYS = (0, 93, 276)  # after 20 March: the equinox and both solstices
DAY_S = 86_400.0


@contextmanager
def threads(count: int) -> Iterator[None]:
    """Let so many threads share the departures."""
    before, numba.config.NUMBA_NUM_THREADS = numba.config.NUMBA_NUM_THREADS, count
    try:
        yield
    finally:
        numba.config.NUMBA_NUM_THREADS = before


def moved(drive: Segments, latitude_deg: float, days: int) -> Segments:
    """Return a drive at another latitude and date."""
    shift = latitude_deg - 47.0
    names = ("latitude_deg", "middle_latitude_deg", "end_latitude_deg")
    places = {name: getattr(drive, name) + shift for name in names}
    start = drive.start_utc_s + days * DAY_S
    return replace(drive, **places, start_utc_s=start, departure_utc_s=drive.departure_utc_s + days * DAY_S)


def assert_agreement() -> None:
    """Raise AssertionError unless both chains agree to 1e-4 a departure and 1e-5 of a day's total."""
    small = hilly_drive(200, 48)
    small = replace(
        small,
        start_utc_s=small.start_utc_s + 900.0 * np.arange(48)[:, None],
        departure_utc_s=small.departure_utc_s + 900.0 * np.arange(48),
    )
    for latitude_deg in LATITUDES_DEG:
        for days in SEASONS_DAYS:
            drive = moved(small, latitude_deg, days)
            ours, theirs = ours_wh(drive), theirs_wh(drive)
            np.testing.assert_allclose(ours, theirs, rtol=1e-4, atol=1e-5)
            np.testing.assert_allclose(ours.sum(axis=1), theirs.sum(axis=1), rtol=1e-5, atol=1e-5)


def in_turns(jobs: dict[str, Callable[[], object]], turns: int) -> dict[str, tuple[float, float]]:
    """Return the medians of processor and clock seconds of jobs that take turns: A B C, A B C."""
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in jobs}
    for turn in range(turns + 1):
        for name, job in jobs.items():
            start = time.process_time(), time.perf_counter()
            job()
            if turn:  # the first compiles
                taken[name].append((time.process_time() - start[0], time.perf_counter() - start[1]))
    return {name: (median(c for c, _ in times), median(w for _, w in times)) for name, times in taken.items()}


def on_threads(count: int, job: Callable[[], object]) -> Callable[[], object]:
    """Return a job that runs on so many threads."""

    def done() -> object:
        with threads(count):
            return job()

    return done


def standard_job() -> dict[str, float]:
    """Return seconds of 2,000 points x 96 departures x 5 skies, and what multiples they are."""
    drive = hilly_drive(POINTS, len(QUARTERS))
    cores = numba.config.NUMBA_NUM_THREADS
    times = in_turns(
        {
            "one": on_threads(1, lambda: ours_wh(replace(drive))),
            "all": on_threads(cores, lambda: ours_wh(replace(drive))),
            "flat": lambda: theirs_wh(drive),
        },
        TURNS,
    )
    naive_s = seconds_a_point(drive) * drive.duration_s.size * len(SKIES)
    return {
        "cores": cores,
        "one_thread_cpu_s": times["one"][0],
        "all_threads_clock_s": times["all"][1],
        "one_thread_clock_s": times["one"][1],
        "flattened_cpu_s": times["flat"][0],
        "flattened_clock_s": times["flat"][1],
        "naive_scaled_s": naive_s,
        "over_flattened_one_thread": times["flat"][0] / times["one"][0],
        "over_flattened_all_threads_by_clock": times["flat"][1] / times["all"][1],
        "over_naive_one_thread": naive_s / times["one"][0],
    }


def with_shade() -> dict[str, float]:
    """Return seconds of the standard job as a sweep without trees and behind those of a 30 m raster."""
    day, flat = leaving(QUARTERS), Terrain.flat(POINTS)
    canopy, skies = wood(day).certain(), [Sky(name=name) for name in SKIES]
    bare = Canopy.open(POINTS)
    with threads(1):
        times = in_turns(
            {
                "bare": lambda: sweep(day, RIG, bare, flat, skies),
                "shade": lambda: sweep(day, RIG, canopy, flat, skies),
            },
            3,
        )
    return {
        "sweep_cpu_s": times["bare"][0],
        "sweep_shade_cpu_s": times["shade"][0],
        "shade_over_bare": times["shade"][0] / times["bare"][0],
    }


def growth() -> dict[str, float]:
    """Return nanoseconds a point, departure and sky at other sizes, on one thread."""
    found = {}
    sizes = {
        "points_500": (500, 96, SKIES, 1),
        "points_8000": (8000, 96, SKIES, 1),
        "departures_24": (POINTS, 24, SKIES, 1),
        "departures_384": (POINTS, 384, SKIES, 1),
        "skies_1": (POINTS, 96, SKIES[:1], 1),
        "skies_20": (POINTS, 96, SKIES * 4, 1),
        "panels_4": (POINTS, 96, SKIES, 4),
    }
    with threads(1):
        for name, (points, departures, skies, panels) in sizes.items():
            drive = hilly_drive(points, departures)
            rig = Rig(panels=(Panel(rated_w=200.0),) * panels)
            done = in_turns({"": lambda: ours_wh(drive, rig, skies)}, 1)[""][0]  # noqa: B023 - called at once
            found[f"{name}_ns"] = 1e9 * done / (points * departures * len(skies))
    return found


def year_job() -> dict[str, float]:
    """Return what every hour of a year costs, 2,000 points under 5 skies, from a tenth; and the memory."""
    hours = QUARTERS[0] + 36_000.0 * np.arange(876)
    skies = [Sky(name=name) for name in SKIES]
    before_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start = time.process_time(), time.perf_counter()
    for first in range(0, 876, 292):
        sweep(leaving(hours[first : first + 292]), RIG, Canopy.open(POINTS), Terrain.flat(POINTS), skies)
    taken = time.process_time() - start[0], time.perf_counter() - start[1]
    chain = in_turns({"": lambda: ours_wh(leaving(hours[:292]))}, TURNS)[""]
    return {
        "year_sweep_cpu_s_scaled": 10 * taken[0],
        "year_sweep_clock_s_scaled": 10 * taken[1],
        "year_chain_cpu_s_scaled": 30 * chain[0],
        "year_chain_clock_s_scaled": 30 * chain[1],
        "year_more_memory_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 - before_mb,
    }
