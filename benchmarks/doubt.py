"""What it costs not to know the trees: with their doubt against the same trees taken as certain, in one run.

Processor seconds on one thread, warm, of the demo's forest and coast roads; compilers and disks are left out.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np

import routesolar as rs
from benchmarks.decisions import seconds
from routesolar.model.sweeping import sweep
from routesolar.trip.segments import Segments

DEMO = Path(__file__).parents[1] / "demo_routes"
HALF_HOURS_S = 1800.0 * np.arange(-4, 23)


def leaving_often(drive: Segments) -> Segments:
    """Return the drive for every half hour of a day."""
    departure_utc_s = drive.departure_utc_s[0] + HALF_HOURS_S
    return replace(
        drive,
        departure_utc_s=departure_utc_s,
        start_utc_s=drive.start_utc_s + HALF_HOURS_S[:, None],
        duration_s=np.repeat(drive.duration_s, len(HALF_HOURS_S), axis=0),
    )


def costs_s(trip: rs.Trip, drive: Segments, around: rs.Surroundings) -> tuple[float, float, float]:
    """Return what a harvest takes, a second one of the same scene, and a sweep of many departures."""
    many, skies = leaving_often(drive), trip.skies
    scene = rs.scene(drive, trip.rig, around)
    return (
        seconds(lambda: rs.harvest(rs.scene(drive, trip.rig, around), skies)),
        seconds(lambda: rs.harvest(scene, skies)),
        seconds(lambda: sweep(many, trip.rig, around.canopy, around.terrain, skies[:1])),
    )


def main() -> None:
    """Print what harvests and sweeps take, with and without doubt."""
    rows = ("a harvest", "a second harvest of its scene", f"{len(HALF_HOURS_S)} departures")
    for name in ("forest", "coast"):
        trip = rs.read_trip(DEMO / f"{name}.toml")
        drive = trip.drive()
        around = rs.surroundings(trip, drive)
        certain = replace(around, canopy=around.canopy.certain())
        print(f"doubt: {name}, {drive.count} segments, trees certain and in doubt")
        for row, sure_s, unsure_s in zip(
            rows, costs_s(trip, drive, certain), costs_s(trip, drive, around), strict=True
        ):
            print(f"  {row:30} {sure_s:6.2f} s {unsure_s:6.2f} s   {unsure_s / sure_s:.2f} times")


if __name__ == "__main__":
    main()
