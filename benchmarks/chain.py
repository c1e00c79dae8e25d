"""The standard job: 2,000 points x 96 departures x 5 skies without shade, beside the flattened reference.

First both must give the same numbers; then they take turns on one thread, and the best of each is printed.
"""

import resource
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from benchmarks.reference import energies_wh
from routesolar.model.scene import run, set_scene
from routesolar.model.sky import states_of
from routesolar.physics.geodesy import destination
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Leg, Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

POINTS, DEPARTURES, TURNS = 2000, 96, 3
SKIES = ("broken", "clear", "thin", "overcast", "rain")
RIG = Rig(panels=(Panel(rated_w=200.0),))


def hilly_drive(points: int, departures: int) -> Segments:
    """Return 100 km on a winding heading over hills, leaving every quarter of an hour of a March day."""
    heading = (70.0 + 40.0 * np.sin(np.arange(points) / 90.0)) % 360
    along_m = np.arange(points + 1) * 50.0
    latitude, longitude = destination(47.0, 8.0, 70.0, along_m)
    height_m = 500.0 + 120.0 * np.sin(along_m / 4000.0)
    departure = 1_773_964_800.0 + 900.0 * np.arange(departures)  # 2026-03-20 00:00 UTC
    return Segments(
        latitude_deg=latitude[:-1],
        longitude_deg=longitude[:-1],
        elevation_m=height_m[:-1],
        middle_latitude_deg=(latitude[1:] + latitude[:-1]) / 2,
        middle_longitude_deg=(longitude[1:] + longitude[:-1]) / 2,
        middle_elevation_m=(height_m[1:] + height_m[:-1]) / 2,
        end_latitude_deg=latitude[1:],
        end_longitude_deg=longitude[1:],
        heading_deg=heading,
        grade_frac=np.diff(height_m) / 50.0,
        speed_mps=np.full(points, 20.0),
        length_m=np.full(points, 50.0),
        along_m=along_m[:-1],
        leg=np.zeros(points, dtype=int),
        stopped=np.zeros(points, dtype=bool),
        roofed=np.zeros(points, dtype=bool),
        driven_on=np.ones(points, dtype=bool),
        start_utc_s=departure[:, None] + 2.5 * np.arange(points),
        duration_s=np.full((departures, points), 2.5),
        departure_utc_s=departure,
        legs=(Leg(name="all", kind="drive"),),
        time_zone="UTC",
    )


def ours_wh(drive: Segments, rig: Rig = RIG, names: tuple[str, ...] = SKIES) -> np.ndarray:
    """Return energy (s, d) by routesolar, sun and clear sky included."""
    scene = set_scene(drive, rig, Canopy.open(drive.count), Terrain.flat(drive.count))
    skies = states_of([Sky(name=name) for name in names], drive, scene.sun.apparent_elevation_deg)
    power = run(scene, skies)
    return np.einsum("sdn,dn->sd", power.expected_w, drive.duration_s) / 3600


def theirs_wh(drive: Segments) -> np.ndarray:
    """Return energy (s, d) by the reference."""
    lit = np.ones(drive.duration_s.shape)
    skies = states_of([Sky(name=name) for name in SKIES], drive, lit)
    return energies_wh(drive, RIG, lit, (np.ones(drive.count), np.ones_like(lit)), skies)


def best_s(job: Callable[[Segments], np.ndarray], drive: Segments) -> float:
    """Return the seconds of one run."""
    start = time.perf_counter()
    job(drive)
    return time.perf_counter() - start


def main() -> None:
    """Assert agreement, then print the times."""
    small = hilly_drive(200, DEPARTURES)
    ours, theirs = ours_wh(small), theirs_wh(small)
    np.testing.assert_allclose(ours, theirs, rtol=1e-4, atol=1e-5)
    np.testing.assert_allclose(ours.sum(axis=1), theirs.sum(axis=1), rtol=1e-5)
    print("chain: both agree to 1e-4 per departure and 1e-5 on day totals")
    drive = hilly_drive(POINTS, DEPARTURES)
    resident_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    ours_wh(replace(drive))
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    turns = [(best_s(ours_wh, drive), best_s(theirs_wh, drive)) for _ in range(TURNS)]
    mine, reference = (min(times) for times in zip(*turns, strict=True))
    job = f"{POINTS:,} points x {DEPARTURES} departures x {len(SKIES)} skies"
    print(f"chain: {job}: {mine:.3f} s, reference {reference:.2f} s, ratio {reference / mine:.1f}")
    print(f"chain: memory {peak_mb:.0f} MB in all, {peak_mb - resident_mb:.0f} MB more than before the job")


if __name__ == "__main__":
    main()
