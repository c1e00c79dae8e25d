"""Shade along a winding road through a wood of our own making, cover and height different in every cell.

First transmittances are held against many plain lines through every shadow (tests/plain_lines.py); then rays
a second and the sky view's time a point are printed. A ray is one transmittance of a point at a departure.
"""

import time

import numpy as np

from benchmarks.winding_road import HABIT, TAU, metre_columns, summer_suns, winding_road
from routesolar.physics.canopy import beam_overlap
from routesolar.physics.columns import beam_crossings, sky_crossings
from routesolar.physics.hemisphere import sky_overlap
from tests.plain_lines import plain_overlap

POINTS, DEPARTURES, CHECKED, TURNS = 2000, 48, 5, 3


def main() -> None:
    """Assert the errors, then print the times."""
    views, road, grid, heading_deg = winding_road(POINTS, 30.0)
    suns = summer_suns(DEPARTURES, POINTS)
    few = tuple(angle[:CHECKED] for angle in suns)
    ours = np.exp(-(1 - TAU) * beam_overlap(views, road, grid, HABIT, *few))
    plain = np.exp(-(1 - TAU) * plain_overlap(views, road, grid, HABIT, *few, lines=255))
    error = np.abs(ours - plain)
    mean, p99, far = error.mean(), np.quantile(error, 0.99), np.mean(error > 0.03)
    print(f"shade: {error.size:,} rays against 255 plain lines: mean error {mean:.4f}, p99 {p99:.4f}, ", end="")
    print(f"{far * 1e4:.1f} in 10,000 above .03")
    assert mean <= 0.001 and p99 <= 0.01
    beam_overlap(views, road, grid, HABIT, *few)
    sky_overlap(views, road, grid, HABIT, heading_deg)
    best = {"beam": np.inf, "sky": np.inf}
    for _ in range(TURNS):
        start = time.perf_counter()
        beam_overlap(views, road, grid, HABIT, *suns)
        middle = time.perf_counter()
        sky_overlap(views, road, grid, HABIT, heading_deg)
        best["beam"] = min(best["beam"], middle - start)
        best["sky"] = min(best["sky"], time.perf_counter() - middle)
    print(f"shade: {suns[0].size / best['beam']:,.0f} rays a second on a 30 m raster along a winding road")
    print(f"shade: sky view {1e6 * best['sky'] / POINTS:.0f} us a point")
    single_trees()


def single_trees() -> None:
    """Print the times of rays and skies among columns on a raster of 1 m."""
    views, columns, heading_deg = metre_columns(100)
    suns = summer_suns(DEPARTURES, 100)
    best = {"beam": np.inf, "sky": np.inf}
    for _ in range(TURNS + 1):  # the first compiles
        start = time.perf_counter()
        beam_crossings(views, columns, HABIT, *suns)
        middle = time.perf_counter()
        sky_crossings(views, columns, HABIT, heading_deg)
        best["beam"] = min(best["beam"], middle - start)
        best["sky"] = min(best["sky"], time.perf_counter() - middle)
    print(f"shade: {suns[0].size / best['beam']:,.0f} rays a second among columns on a 1 m raster")
    print(f"shade: sky view among columns {1e6 * best['sky'] / 100:.0f} us a point")


if __name__ == "__main__":
    main()
