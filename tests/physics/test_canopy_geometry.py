"""Lines through cells, capsules and shadows, against a bookkeeper of border crossings, to 1e-8 of a metre."""

from itertools import pairwise

import numpy as np
import pytest
from canopy_scenes import bend, grid_of, grid_views, habit, road_of, s_bend, straight, uniform_views
from numpy.testing import assert_allclose
from plain_lines import plain_overlap

from routesolar.physics.canopy import beam_overlap, bundle_of
from routesolar.physics.corridor import Corridor, Vehicle, pieces_near
from routesolar.physics.crowns import crowns_of
from routesolar.physics.geodesy import destination
from routesolar.physics.shadows import LINE_NORM, lines_between, make_room, ray_at
from routesolar.physics.stand import no_grid


def crowns_per_metre(scene, ray, y, widest):
    """What one line meets: every border, capsule and shadow end on it, sorted, and what lies between."""
    cover, height, place, cells_per_m, pieces, tree, panel_m = scene
    along, aside = np.array([ray.east, ray.north]), np.array([ray.north, -ray.east])
    start, step = place + cells_per_m @ aside * y, cells_per_m @ along
    borders = [(np.arange(cover.shape[1 - axis] + 1) - start[axis]) / step[axis] for axis in (0, 1)]
    cuts = np.concatenate([*borders, *(_capsule_cuts(piece, along, aside, y) for piece in pieces)])
    total = 0.0
    for low, high in pairwise(np.sort(cuts[np.isfinite(cuts)])):
        col, row = np.floor(start + step * (low + high) / 2).astype(int)
        if not (0 <= row < cover.shape[0] and 0 <= col < cover.shape[1]):
            continue
        radius = height[row, col] * (1 - tree.base_frac) / 2 / tree.ratio
        if radius <= abs(y):
            continue
        half = ray.half_chord * np.sqrt(radius**2 - y**2)
        centre = (height[row, col] * (1 + tree.base_frac) / 2 - panel_m + ray.side_slope * y) / ray.rise
        first = max(low, centre - half, 0.0 if height[row, col] * tree.base_frac < panel_m else -np.inf)
        last = min(high, centre + half)
        if last > first and not _on_road(pieces, along * (first + last) / 2 + aside * y):
            norm = LINE_NORM[min(1024, int(1024 * radius / widest))]
            total += norm * -np.log(1 - cover[row, col]) * (last - first) / (np.pi * radius**2)
    return total


def _capsule_cuts(piece, along, aside, y):
    """Where the line crosses the circles around a piece's ends and the two lines beside it."""
    half, cuts = piece[4], []
    for end in (piece[:2], piece[2:4]):
        under = half**2 - (y - end @ aside) ** 2
        cuts += [end @ along - np.sqrt(under), end @ along + np.sqrt(under)] if under > 0 else []
    direction = (piece[2:4] - piece[:2]) / np.hypot(*(piece[2:4] - piece[:2]))
    normal = np.array([-direction[1], direction[0]])
    for side in (-half, half):
        if along @ normal != 0:
            cuts.append((side - (aside * y - piece[:2]) @ normal) / (along @ normal))
    return np.array(cuts)


def _on_road(pieces, point):
    start, step = pieces[:, :2], pieces[:, 2:4] - pieces[:, :2]
    share = np.clip(np.sum((point - start) * step, axis=1) / np.sum(step**2, axis=1), 0, 1)
    return np.any(np.hypot(*(point - start - share[:, None] * step).T) < pieces[:, 4])


@pytest.mark.parametrize("seed", range(6))
def test_every_line_meets_what_its_border_crossings_say(seed):
    rng = np.random.default_rng(seed)
    line = (straight(), bend(60, 1, 9.0), s_bend(45, 80, 7.0))[seed % 3]
    road = road_of(line, rng.uniform(3, 8), rng.uniform(-2, 2))
    cover, height = rng.uniform(0, 0.9, (40, 40)), rng.uniform(5, 26, (40, 40)).astype(np.float32)
    turn = rng.uniform(0, 2 * np.pi)
    # Turned, and as in a raster in degrees, of unlike lengths along its axes.
    cells_per_m = np.array([[np.cos(turn) / 20, -np.sin(turn) / 20], [-np.sin(turn) / 29, -np.cos(turn) / 29]])
    place, tree = rng.uniform(18, 22, 2), habit(0.3, 1.6)
    grid, slope = grid_of(cover, height), rng.uniform(-0.1, 0.1, 2)
    cover = 1 - np.exp(-np.log1p(cover / (1 - cover)).astype(np.float32).astype(float))
    views = grid_views(grid, *place, cells_per_m, 2.4, slope=slope)
    crowns, room = crowns_of(tree), make_room(len(road.piece), 2000, 1, 24)
    scene = (cover, height.astype(float), place, cells_per_m, road.piece, tree, 2.4)
    for _ in range(4):
        azimuth, elevation = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 1.2)
        ray = ray_at(views, crowns, 0, np.sin(azimuth), np.cos(azimuth), np.tan(elevation))
        bundle = bundle_of(views, road, grid, crowns, 0, ray, room)
        lines_between(bundle, 0.0, np.pi, room)
        expected = [crowns_per_metre(scene, ray, y, bundle.band.widest) for y in room.y]
        # A metre of line meets crowns in the thousandths: 1e-8 of a metre is 1e-10.
        assert_allclose(room.met, expected, rtol=1e-8, atol=1e-10)


@pytest.mark.compiled
def test_bundles_agree_with_plain_lines_that_walk_cell_by_cell():
    rng = np.random.default_rng(21)
    cover, height = rng.uniform(0, 0.9, (60, 60)), rng.uniform(8, 26, (60, 60))
    grid, tree = grid_of(cover, height), habit()
    errors = []
    for _ in range(60):
        road = road_of(s_bend(*rng.uniform(60, 250, 2), 10.0), rng.uniform(5, 9), 1.75)
        views = grid_views(grid, *rng.uniform(25, 35, 2), np.diag([1 / 20, -1 / 20]), 2.4)
        suns = rng.uniform(0, 360, (40, 1)), np.degrees(np.arcsin(rng.uniform(0.15, 0.95, (40, 1))))
        found, plain = (
            np.exp(-x)
            for x in (
                beam_overlap(views, road, grid, tree, *suns),
                plain_overlap(views, road, grid, tree, *suns, 511),
            )
        )
        errors.append(found - plain)
    # Fast evaluation, documentation of the shade model, 6b: mean .0006, p99 .006, 2 in 10,000 over .03.
    errors = np.abs(errors)
    assert errors.mean() <= 0.001
    assert np.quantile(errors, 0.99) <= 0.01
    assert np.mean(errors > 0.03) <= 0.0005  # one of the 2,400


def test_one_departure_is_the_same_alone_and_within_a_sweep():
    rng = np.random.default_rng(22)
    grid = grid_of(rng.uniform(0, 0.9, (40, 40)), rng.uniform(8, 26, (40, 40)))
    views = grid_views(grid, rng.uniform(15, 25, 3), rng.uniform(15, 25, 3), np.diag([1 / 30, -1 / 30]), 2.4)
    road = road_of(bend(90, 1, 10.0), 6.0, 1.75, count=3)
    suns = rng.uniform(0, 360, (9, 3)), rng.uniform(-5, 80, (9, 3))
    sweep = beam_overlap(views, road, grid, habit(), *suns)
    for d in range(9):
        alone = beam_overlap(views, road, grid, habit(), suns[0][d : d + 1], suns[1][d : d + 1])
        np.testing.assert_array_equal(alone[0], sweep[d])


def test_suns_below_the_horizon_and_ground_above_the_sun_have_no_beam():
    road = road_of(straight(), 6.0, 1.75)
    suns = np.array([[0.0]]), np.array([[-1.0]])
    assert np.isnan(beam_overlap(uniform_views(0.5, 18.0, 2.4), road, no_grid(), habit(), *suns))
    uphill = uniform_views(0.5, 18.0, 2.4, slope_north=0.2)
    assert np.isinf(beam_overlap(uphill, road, no_grid(), habit(), suns[0], np.array([[10.0]])))


def test_unknown_cover_is_never_taken_for_no_trees():
    cover, height = np.full((40, 40), 0.5), np.full((40, 40), 18.0)
    cover[19, :] = np.nan
    grid = grid_of(cover, height)
    road, suns = road_of(straight(), 5.0, 0.0), (np.array([[45.0]]), np.array([[30.0]]))
    views = grid_views(grid, 20.5, 20.5, np.diag([1 / 10, -1 / 10]), 2.4)
    assert np.isnan(beam_overlap(views, road, grid, habit(), *suns))
    outside = grid_views(grid, -80.0, 20.5, np.diag([1 / 10, -1 / 10]), 2.4)
    assert np.isnan(beam_overlap(outside, road, grid, habit(), *suns))


@pytest.mark.parametrize(("latitude", "longitude"), [(0.0, 20.0), (-42.0, 179.9999), (66.0, -180.0)])
def test_the_road_lies_where_geodesics_put_it_also_across_the_antimeridian(latitude, longitude):
    bearing, reach_m = np.array([20.0, 110.0, 200.0, 290.0]), np.array([40.0, 300.0, 780.0, 650.0])
    lat, lon = destination(latitude, longitude, bearing, reach_m)
    far_lat, far_lon = destination(latitude, longitude, bearing, reach_m + 30.0)
    beyond_lat, beyond_lon = destination(latitude, longitude, 0.0, 900.0)
    line = Corridor(
        np.append(lat, [latitude, beyond_lat]),
        np.append(lon, [longitude, beyond_lon]),
        np.append(far_lat, [latitude, beyond_lat + 0.001]),
        np.append(far_lon, [longitude, beyond_lon]),
        np.arange(6.0),
    )
    vehicle = Vehicle(np.array([latitude]), np.array([longitude]), np.array([90.0]), np.array([2.0]))
    road = pieces_near(line, vehicle)
    # The stop has no length, the last piece is too far. The vehicle heads east: right is south.
    np.testing.assert_array_equal(road.piece[:, 4], [0.0, 1.0, 3.0, 2.0])
    east, north = np.sin(np.radians(bearing)), np.cos(np.radians(bearing))
    for k, half in enumerate((0, 1, 3, 2)):
        start = np.array([east[half], north[half]]) * reach_m[half] + [0.0, 2.0]
        # Straight lines between degrees: .1 m in 800 m.
        assert_allclose(road.piece[k, :2], start, atol=0.1)
        assert_allclose(road.piece[k, 2:4] - start, np.array([east[half], north[half]]) * 30.0, atol=0.1)
        assert road.distance_m[k] == pytest.approx(np.hypot(*start), abs=0.1)
