"""What a decision costs: many departures of 100 km through a wood of our own making, on a 30 m raster.

Processor seconds on one thread, warm. What belongs to the route alone, its sky view above all, is found by a
night departure, which has no beam to trace, and told apart.
"""

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from benchmarks.chain import SKIES, hilly_drive
from routesolar.decisions.departures import ranked
from routesolar.decisions.park import find_parking
from routesolar.decisions.stay import Stay, spots_around
from routesolar.model.sweeping import sweep
from routesolar.physics.geodesy import metres_per_degree
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import TILE, Canopy, Placement, Terrain, TiledGrid

POINTS, CELL_M, MARGIN_M = 2000, 30.0, 1500.0
QUARTERS = 1_773_964_800.0 + 900.0 * np.arange(96)  # 2026-03-20 UTC
HOURS = np.array([86_400.0 * 365 / 12 * month + 3600.0 * hour for month in range(12) for hour in range(24)])
RIG = Rig(panels=(Panel(rated_w=200.0),))


def leaving(departure_utc_s: np.ndarray) -> Segments:
    """Return the drive of 100 km for some departures."""
    drive = hilly_drive(POINTS, len(departure_utc_s))
    starts = departure_utc_s[:, None] + 2.5 * np.arange(POINTS)
    return replace(drive, departure_utc_s=departure_utc_s, start_utc_s=starts)


def wood(drive: Segments) -> Canopy:
    """Return woods and clearings around the road, every cell another cover and height."""
    degree = metres_per_degree(47.0)
    east = (drive.middle_longitude_deg - drive.middle_longitude_deg.min()) * degree[1] + MARGIN_M
    north = (drive.middle_latitude_deg - drive.middle_latitude_deg.min()) * degree[0] + MARGIN_M
    shape = [int((side.max() + MARGIN_M) / CELL_M / TILE) + 1 for side in (north, east)]
    rows, cols = shape[0] * TILE, shape[1] * TILE
    row, col = np.indices((rows, cols)) * CELL_M
    rng = np.random.default_rng(1)
    mood = np.sin(row / 340.0) * np.cos(col / 270.0) + 0.5 * np.sin((row + col) / 130.0)
    cover = np.clip(0.5 + 0.35 * mood + rng.normal(0, 0.12, mood.shape), 0.0, 0.95)
    height = np.clip(17.0 + 5.0 * np.sin(col / 210.0 - row / 330.0) + rng.normal(0, 3.0, mood.shape), 6, 28)
    place = Placement(
        col=east / CELL_M,
        row=rows - north / CELL_M,
        cells_per_m=np.tile(np.diag([1, -1]) / CELL_M, (POINTS, 1, 1)),
    )
    known = Canopy.uniform(POINTS, cover_frac=0.0)
    return replace(
        known,
        uniform_cover_frac=np.full(POINTS, np.nan),
        cover_frac=tiled(cover),
        height_m=tiled(height),
        placement=place,
    )


def camp() -> tuple[Stay, Segments, Canopy]:
    """Return a stay from dawn to dusk among scattered trees on a raster of 1 m, and the places around it."""
    start_utc_s = 1_781_499_600.0  # 2026-06-15 05:00 UTC
    stay = Stay("camp", 47.0, 8.0, 500.0, 0.0, start_utc_s, start_utc_s + 14 * 3600.0, "UTC")
    places = spots_around(stay, 100.0)
    degree, side = metres_per_degree(47.0), 4 * TILE
    row, col = np.indices((side, side))
    height = np.zeros((side, side))
    for east, north, tall, radius in np.random.default_rng(3).uniform(
        (0, 0, 6, 2), (side, side, 25, 6), (4000, 4)
    ):
        near = np.s_[max(0, int(north) - 6) : int(north) + 7, max(0, int(east) - 6) : int(east) + 7]
        crown = np.hypot(row[near] - north, col[near] - east) < radius
        height[near] = np.where(crown, np.maximum(height[near], tall), height[near])
    n = places.count
    place = Placement(
        col=side / 2 + (places.longitude_deg - 8.0) * degree[1],
        row=side / 2 - (places.latitude_deg - 47.0) * degree[0],
        cells_per_m=np.tile(np.diag([1.0, -1.0]), (n, 1, 1)),
    )
    unsaid = replace(Canopy.uniform(n, cover_frac=0.0), uniform_cover_frac=np.full(n, np.nan))
    return stay, places, replace(unsaid, height_m=tiled(height), placement=place)


def tiled(cells: np.ndarray) -> TiledGrid:
    """Return a raster all of whose tiles are in memory."""
    down, across = cells.shape[0] // TILE, cells.shape[1] // TILE
    tiles = cells.reshape(down, TILE, across, TILE).swapaxes(1, 2).reshape(-1, TILE, TILE)
    slot = np.arange(down * across, dtype=np.int32).reshape(down, across)
    return TiledGrid(tiles=tiles.astype(np.float32), slot=slot, height=cells.shape[0], width=cells.shape[1])


def seconds(job: Callable[[], object], turns: int = 3) -> float:
    """Return the least processor seconds of a few runs."""
    taken = []
    for _ in range(turns):
        start = time.process_time()
        job()
        taken.append(time.process_time() - start)
    return min(taken)


def main() -> None:
    """Assert agreement, then print the times."""
    day, night = leaving(QUARTERS), leaving(QUARTERS[:1])
    canopy, flat = wood(day), Terrain.flat(POINTS)
    skies = [Sky(name=name) for name in SKIES]
    many = sweep(day, RIG, canopy, flat, skies)
    alone = sweep(leaving(QUARTERS[40:41]), RIG, canopy, flat, skies)
    assert np.array_equal(alone.energy_wh[:, 0], many.energy_wh[:, 40])
    print("decisions: a departure is the same alone as in the sweep")
    once_s = seconds(lambda: sweep(night, RIG, canopy, flat, skies))
    bare_s = seconds(lambda: sweep(day, RIG, Canopy.open(POINTS), flat, skies))
    day_s = seconds(lambda: sweep(day, RIG, canopy, flat, skies)) - once_s
    rank_s = seconds(lambda: ranked(many))
    print(f"  once a route (sky view)                      {once_s:6.2f} s")
    print(
        f"  96 departures x 2,000 points x 5 skies       {day_s:6.2f} s  ({bare_s:.2f} s of it without shade)"
    )
    print(f"  ranking them under one sky                   {rank_s:6.2f} s")
    year = leaving(QUARTERS[0] + HOURS)
    seasonal = replace(canopy, crown_transmittance_frac=np.repeat(np.linspace(0.1, 0.6, 12), 24)[:, None])
    year_s = seconds(lambda: sweep(year, RIG, canopy, flat, skies[:1]), 2) - once_s
    print(f"  calendar, 12 x 24 departures x 2,000 points  {year_s:6.2f} s")
    leaves_s = seconds(lambda: sweep(year, RIG, seasonal, flat, skies[:1]), 1) - once_s
    print(f"  the same with leaves that come and go        {leaves_s:6.2f} s")
    stay, places, columns = camp()
    leaning = Rig(panels=(Panel(rated_w=200.0, tilt_deg=20.0),))
    level_ground = Terrain.flat(places.count)
    park_s = seconds(lambda: find_parking(stay, places, leaning, columns, level_ground, skies[0]))
    steps = len(places.departure_utc_s)
    print(f"  park, {places.count} spots x 36 headings x {steps} steps     {park_s:6.2f} s")


if __name__ == "__main__":
    main()
