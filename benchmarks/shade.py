"""Shade along a winding road through a wood of our own making, cover and height different in every cell.

First transmittances are held against many plain lines through every shadow (tests/plain_lines.py); then rays
a second and the sky view's time a point are printed. A ray is one transmittance of a point at a departure.
"""

import time
from collections.abc import Callable

import numpy as np

from benchmarks.winding_road import HABIT, TAU, metre_columns, summer_suns, winding_road
from routesolar.physics.canopy import beam_overlap
from routesolar.physics.columns import beam_crossings, sky_crossings
from routesolar.physics.hemisphere import sky_overlap
from tests.plain_lines import plain_overlap

POINTS, AMONG_COLUMNS, DEPARTURES, CHECKED, TURNS = 2000, 100, 48, 5, 3


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
    random = timed(
        lambda: beam_overlap(views, road, grid, HABIT, *suns),
        lambda: sky_overlap(views, road, grid, HABIT, heading_deg),
    )
    ray_s, sky_s = random[0] / suns[0].size, random[1] / POINTS
    print(f"shade: {1 / ray_s:,.0f} rays a second on a 30 m raster along a winding road")
    print(f"shade: sky view {1e6 * sky_s:.0f} us a point")
    views, columns, heading_deg = metre_columns(AMONG_COLUMNS)
    suns = summer_suns(DEPARTURES, AMONG_COLUMNS)
    single = timed(
        lambda: beam_crossings(views, columns, HABIT, *suns),
        lambda: sky_crossings(views, columns, HABIT, heading_deg),
    )
    single_ray_s, single_sky_s = single[0] / suns[0].size, single[1] / AMONG_COLUMNS
    print(f"shade: {1 / single_ray_s:,.0f} rays a second among columns on a 1 m raster")
    print(f"shade: sky view among columns {1e6 * single_sky_s:.0f} us a point")
    ratio = (96 * single_ray_s + single_sky_s) / (96 * ray_s + sky_s)
    print(f"shade: 96 departures on the 1 m raster take {ratio:.2f} times those on the 30 m raster")


def timed(beam: Callable[[], object], sky: Callable[[], object]) -> tuple[float, float]:
    """Return the seconds of both, the best of a few turns after one that compiles."""
    best = [np.inf, np.inf]
    for _ in range(TURNS + 1):
        for k, work in enumerate((beam, sky)):
            start = time.perf_counter()
            work()
            best[k] = min(best[k], time.perf_counter() - start)
    return best[0], best[1]


if __name__ == "__main__":
    main()
