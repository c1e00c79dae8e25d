"""Every figure of benchmarks/README.md in one run: first both chains must agree, then all take turns.

    benchmarks/run              asserts, measures (some five minutes), writes into benchmarks/README.md
    benchmarks/run --json FILE  also writes the figures

Processor seconds unless it says clock; medians of turns. No speed is told where the numbers are not right.
"""

import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from statistics import median

import numba
import numpy as np

from benchmarks.chain_speed import assert_agreement, growth, in_turns, standard_job, with_shade, year_job
from benchmarks.past_this_machine import plan
from benchmarks.shade import AMONG_COLUMNS, DEPARTURES, HABIT, POINTS
from benchmarks.terrain import EYE_M, road, written
from benchmarks.winding_road import metre_columns, summer_suns, winding_road
from routesolar.files.gpx import read_route
from routesolar.files.terrain import read_terrain
from routesolar.physics.canopy import beam_overlap
from routesolar.physics.columns import beam_crossings
from routesolar.physics.hemisphere import sky_overlap

ROOT = Path(__file__).parents[1]
README = ROOT / "benchmarks" / "README.md"
FROM, TO = "<!-- figures -->", "<!-- end of figures -->"
BARE = [sys.executable, "-c", "pass"]
NUMBA = [sys.executable, "-c", "import numpy, numba"]
RASTER = [sys.executable, "-c", "import numpy, numba, rasterio"]
OURS = [sys.executable, "-m", "routesolar"]
TURNS = 3
# What the run sets for its own jobs, or a developer for himself: a program starts as at a user's.
NOT_A_USERS = ("PYTHONDONTWRITEBYTECODE", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")


def process(words: list[str]) -> tuple[float, float]:
    """Return the processor seconds and most memory (MB) of a program."""
    told = "import resource, subprocess, sys; done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, "
    told += "stderr=subprocess.DEVNULL); used = resource.getrusage(resource.RUSAGE_CHILDREN); "
    told += "print(done.returncode, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)"
    environment = {name: value for name, value in os.environ.items() if name not in NOT_A_USERS}
    done = subprocess.run(
        [sys.executable, "-c", told, *words],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    code, seconds, mb = done.stdout.split()
    assert code == "0", words
    return float(seconds), float(mb)


def start_up() -> dict[str, float]:
    """Return the processor seconds of commands, all warm, and of starting Python and libraries."""
    with tempfile.TemporaryDirectory() as folder:
        files = [*OURS, "harvest", "demo_routes/transit_day.toml", "--force", "-o", f"{folder}/day"]
        commands = {
            "python": BARE,
            "python_numba": NUMBA,
            "python_numba_rasterio": RASTER,
            "help": [*OURS, "--help"],
            "coast": [*OURS, "harvest", "--json", "demo_routes/coast.toml"],
            "long_day_files": files,
        }
        taken: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
        for turn in range(TURNS + 1):
            for name, words in commands.items():
                done = process(words)
                if turn:
                    taken[name].append(done)
    found = {f"{name}_cpu_s": median(cpu for cpu, _ in done) for name, done in taken.items()}
    found["long_day_files_mb"] = median(mb for _, mb in taken["long_day_files"])
    found["help_over_python"] = found["help_cpu_s"] / found["python_cpu_s"]
    found["coast_over_libraries"] = found["coast_cpu_s"] / found["python_numba_rasterio_cpu_s"]
    found["long_day_over_libraries"] = found["long_day_files_cpu_s"] / found["python_numba_rasterio_cpu_s"]
    return found


def long_road() -> dict[str, float]:
    """Return the most memory of 1,500 km with a battery, from before sunrise until after midnight."""
    north_deg, east_deg = [-33.0], [139.0]
    for point in range(30_000):
        heading = np.radians(60 + 25 * np.sin(point / 400))
        north_deg.append(north_deg[-1] + 50 * np.cos(heading) / 111_195)
        east_deg.append(east_deg[-1] + 50 * np.sin(heading) / (111_195 * np.cos(np.radians(north_deg[-1]))))
    points = "".join(
        f'<trkpt lat="{north:.7f}" lon="{east:.7f}"><ele>200</ele></trkpt>'
        for north, east in zip(north_deg, east_deg, strict=True)
    )
    with tempfile.TemporaryDirectory() as folder:
        road_file = Path(folder) / "road.gpx"
        road_file.write_text(
            '<gpx version="1.1" creator="routesolar" xmlns="http://www.topografix.com/GPX/1/1">'
            f"<trk><trkseg>{points}</trkseg></trk></gpx>",
            encoding="utf-8",
        )
        drive = ["harvest", "--json", str(road_file), "--rig", "demo_routes/van.toml"]
        done = [
            process([*OURS, *drive, "--depart", "2026-11-20T05:00", "--speed", "80km/h"]) for _ in range(TURNS)
        ]
    return {"long_road_mb": median(mb for _, mb in done), "long_road_cpu_s": median(cpu for cpu, _ in done)}


def shade() -> dict[str, float]:
    """Return rays a second and the sky view's time a point, on one thread."""
    views, way, grid, heading_deg = winding_road(POINTS, 30.0)
    suns = summer_suns(DEPARTURES, POINTS)
    single, columns, _ = metre_columns(AMONG_COLUMNS)
    few = summer_suns(DEPARTURES, AMONG_COLUMNS)
    times = in_turns(
        {
            "beam": lambda: beam_overlap(views, way, grid, HABIT, *suns),
            "sky": lambda: sky_overlap(views, way, grid, HABIT, heading_deg),
            "columns": lambda: beam_crossings(single, columns, HABIT, *few),
        },
        TURNS,
    )
    return {
        "rays_a_second_30m": suns[0].size / times["beam"][0],
        "rays_a_second_columns": few[0].size / times["columns"][0],
        "sky_view_us": 1e6 * times["sky"][0] / POINTS,
    }


def reading() -> dict[str, float]:
    """Return the processor seconds of reading a track, and horizons of 4,000 points with their raster."""
    with tempfile.TemporaryDirectory() as folder:
        path = written(Path(folder))
        at = road(4_000)
        track = ROOT / "demo_routes" / "transit_day.gpx"
        times = in_turns(
            {
                "horizons": lambda: read_terrain([path], *at, np.full(4_000, np.nan), EYE_M),
                "gpx": lambda: read_route([track]),
            },
            2,
        )
    return {"horizons_4000_cpu_s": times["horizons"][0], "gpx_cpu_s": times["gpx"][0]}


def measured() -> dict[str, float]:
    """Return every figure by name."""
    figures: dict[str, float] = {}
    for part in (standard_job, growth, with_shade, year_job, shade, reading, start_up, long_road):
        start = time.perf_counter()
        figures |= part()
        print(f"{part.__name__}: {time.perf_counter() - start:.0f} s", file=sys.stderr, flush=True)
    figures["memory_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return figures


def processor() -> str:
    """Return the processor's name."""
    lines = (
        Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines() if Path("/proc/cpuinfo").exists() else []
    )
    named = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    return named[0] if named else platform.processor()


def table(figures: dict[str, float]) -> str:
    """Return the figures as a table of what is asked and what was found."""
    f = figures
    rows = [
        (
            "flattened pvlib / ours, one thread, no shade",
            "at least 50",
            f"{f['over_flattened_one_thread']:.1f}",
        ),
        (
            f"the same by the clock, {f['cores']:.0f} threads",
            "at least 90",
            f"{f['over_flattened_all_threads_by_clock']:.1f}",
        ),
        ("pvlib point by point (scaled from 40) / ours", "", f"{f['over_naive_one_thread']:,.0f}"),
        ("standard job, one thread", "", f"{f['one_thread_cpu_s']:.3f} s"),
        ("sweep with 30 m shade / without", "under 3", f"{f['shade_over_bare']:.1f}"),
        ("rays a second, 30 m raster", "1,000,000", f"{f['rays_a_second_30m']:,.0f}"),
        ("rays a second, height columns", "2,000,000", f"{f['rays_a_second_columns']:,.0f}"),
        ("sky view a point", "under 40 us", f"{f['sky_view_us']:.0f} us"),
        ("horizons of 4,000 points, their raster read", "under 1 s", f"{f['horizons_4000_cpu_s']:.2f} s"),
        (
            "year, 2,000 x 8,760 x 5, by the clock, scaled from a thirtieth",
            "under 3 s",
            f"{f['year_chain_clock_s_scaled']:.1f} s",
        ),
        ("the same as a sweep with bands, scaled from a tenth", "", f"{f['year_sweep_clock_s_scaled']:.0f} s"),
        ("`--help` / bare Python", "under 1.5", f"{f['help_over_python']:.1f}"),
        (
            "warm `harvest --json`, coast / its libraries",
            "under 2.5",
            f"{f['coast_over_libraries']:.1f}",
        ),
        ("long day with all files / the same", "under 6", f"{f['long_day_over_libraries']:.1f}"),
        ("long day with all files, memory", "350 MB", f"{f['long_day_files_mb']:.0f} MB"),
        ("1,500 km with a battery, memory", "400 MB", f"{f['long_road_mb']:.0f} MB"),
        ("reading the long day's track", "", f"{f['gpx_cpu_s']:.3f} s"),
        *((f"a point, departure and sky: {name}", "", f"{f[f'{name}_ns']:.0f} ns") for name in GROWTH),
    ]
    head = ["| what | asked | found |", "|---|---|---|"]
    return "\n".join([*head, *(f"| {what} | {asked} | {found} |" for what, asked, found in rows)])


GROWTH = "points_500 points_8000 departures_24 departures_384 skies_1 skies_20 panels_4".split()


def main() -> None:
    """Assert, measure and write."""
    assert_agreement()
    print("both chains agree: 4 latitudes, 3 seasons, 5 skies", file=sys.stderr)
    load = os.getloadavg()[0]
    figures = measured()
    when = f"{datetime.now(UTC):%Y-%m-%d}"
    shared = f"; the load was {load:.1f} at the start, so others shared the machine" if load > 0.7 else ""
    said = f"{when}, {processor()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
    said += f"numba {numba.__version__}{shared}."
    text = README.read_text(encoding="utf-8")
    before, after = text.split(FROM)[0], text.split(TO)[1]
    README.write_text(
        f"{before}{FROM}\n{said}\n\n{table(figures)}\n\n{plan(figures)}{TO}{after}", encoding="utf-8"
    )
    print(said, table(figures), sep="\n\n")
    if "--json" in sys.argv:
        Path(sys.argv[sys.argv.index("--json") + 1]).write_text(json.dumps(figures, indent=2), encoding="utf-8")


if __name__ == "__main__":
    main()
