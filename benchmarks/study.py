"""What a study costs beside a tight script for the same drives, and whether twice as long takes twice as long.

    python benchmarks/study.py --dates 200 --rigs 12

Processor seconds, warm, in processes of their own; numbers are compared first.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

import routesolar as rs
from routesolar.model.scene import set_scenes

DEMO = Path(__file__).parents[1] / "demo_routes"
ROUTES = ("coast", "forest")


def study_of(dates: int, rigs: int, *, battery: bool) -> rs.Study:
    """Return a study of the demo's two roads: so many dates and rigs, one departure, one sky."""
    van = rs.read_rig(DEMO / "van.toml")
    if not battery:
        van = replace(van, battery=None, alternator=None, loads=())
    made = {}
    for number in range(rigs):
        panel = replace(van.panels[0], rated_w=100.0 + 25.0 * number, length_m=None, width_m=None)
        made[f"rig {number + 1}"] = replace(van, panels=(panel,))
    return rs.Study(
        routes={name: rs.read_trip(DEMO / f"{name}.toml") for name in ROUTES},
        rigs=made,
        dates=tuple(date(2026, 1, 1) + timedelta(days=number) for number in range(dates)),
        departures_s=(36_000.0,),
        skies=("fair",),
    )


def script(asked: rs.Study, into: Path) -> None:
    """Compute the same drives by hand: each road is looked at once a date, tables are written at the end."""
    rows, legs, days = [], [], []
    sky = rs.Sky(name="fair")
    for name, trip in asked.routes.items():
        for day in asked.dates:
            leaving = datetime.combine(day, datetime.min.time()) + timedelta(hours=10)
            drive = replace(
                trip, departure=rs.parse_departure(f"{leaving:%Y-%m-%d %H:%M}", trip.time_zone)
            ).drive()
            around = rs.surroundings(trip, drive)
            for scene in set_scenes(drive, tuple(asked.rigs.values()), around.canopy, around.terrain):
                harvest = rs.harvest(scene, sky)
                totals = harvest.totals
                rows.append((name, totals.energy_wh, totals.energy_low_wh, totals.energy_high_wh))
                legs += [(name, leg.name, leg.energy_wh) for leg in harvest.legs]
                days += [(name, each.date, each.energy_wh) for each in harvest.days]
    for table, found in (("drives", rows), ("legs", legs), ("days", days)):
        columns = [list(column) for column in zip(*found, strict=True)]
        pq.write_table(pa.table(dict(zip("abcd", columns, strict=False))), into / f"{table}.parquet")


def measured(who: str, dates: int, rigs: int, battery: bool) -> dict[str, float]:
    """Return processor seconds and memory of one way, in a process of its own, without its start."""
    words = [who, "--dates", str(dates), "--rigs", str(rigs), *(["--battery"] if battery else [])]
    done = subprocess.run(
        [sys.executable, "-m", "benchmarks.study", "--work", *words], capture_output=True, text=True, check=True
    )
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def work(who: str, dates: int, rigs: int, battery: bool) -> None:
    """Do it once small, then measure."""
    with tempfile.TemporaryDirectory() as scratch:
        for turn, count in (("warm", 1), ("measured", dates)):
            asked = study_of(count, 1 if turn == "warm" else rigs, battery=battery)
            into = Path(scratch) / turn
            into.mkdir()
            started_s = time.process_time()
            if who == "script":
                script(asked, into)
                energies = pq.read_table(into / "drives.parquet")["b"].to_pylist()
            else:
                rs.study(asked, into)
                energies = pq.read_table(into / "drives", columns=["energy_wh"])["energy_wh"].to_pylist()
            spent_s = time.process_time() - started_s
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps({"s": spent_s, "mb": memory_mb, "wh": sum(sorted(energies)), "drives": len(energies)}))


def main() -> None:
    """Print both ways side by side, and the study at twice the length."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--dates", type=int, default=20)
    asked.add_argument("--rigs", type=int, default=12)
    asked.add_argument("--battery", action="store_true")
    asked.add_argument("--work", default="")
    given = asked.parse_args()
    if given.work:
        work(given.work, given.dates, given.rigs, given.battery)
        return
    size = (given.rigs, given.battery)
    half, whole = measured("study", given.dates // 2, *size), measured("study", given.dates, *size)
    by_hand = measured("script", given.dates, *size)
    assert whole["drives"] == by_hand["drives"] and whole["wh"] == by_hand["wh"], "not the same drives"
    for name, found in (("script", by_hand), ("study", whole), ("study, half as long", half)):
        each_ms = 1000 * found["s"] / found["drives"]
        print(
            f"{name:20} {found['drives']:6.0f} drives {found['s']:7.1f} s {each_ms:6.0f} ms each "
            f"{found['mb']:5.0f} MB"
        )
    print(
        f"study over script {whole['s'] / by_hand['s']:.2f}, twice as long {whole['s'] / half['s']:.2f} times"
    )


if __name__ == "__main__":
    main()
