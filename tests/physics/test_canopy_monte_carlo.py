"""The canopy model against ray-cast crowns (tests/monte_carlo.py): random roads, stands, slopes, seasons.

What is asked of it (documentation of the shade model, section 6b): mean error .003, one in a hundred over
.02. The caster's own standard error is .001 to .002.
"""

import numpy as np
import pytest
from canopy_scenes import bend, grid_of, grid_views, habit, road_of, s_bend, straight, uniform_views
from monte_carlo import Ground, Wood, cast

from routesolar.physics.canopy import beam_overlap
from routesolar.physics.crowns import crown_transmittance
from routesolar.physics.stand import no_grid

pytestmark = pytest.mark.compiled

CELLS = 48


def some_road(rng):
    """A straight road, a bend or an S bend, the vehicle anywhere across it; trunks from 3 to 20 m."""
    radius_m, other_m = rng.uniform(40, 400, 2)
    kind = rng.integers(3)
    if kind == 0:
        line = straight()
    elif kind == 1:
        line = bend(radius_m, rng.choice([-1, 1]), step_m=4.0)
    else:
        line = s_bend(radius_m, other_m, step_m=4.0)
    return road_of(line, rng.uniform(3, 20), rng.uniform(-2.5, 2.5))


def some_sun(rng):
    """A sun from 10 to 75 deg, three in ten along the road, where the corridor matters most."""
    azimuth = rng.uniform(0, 360) if rng.random() < 0.7 else rng.normal(0, 8)
    return np.array([azimuth, np.degrees(np.arcsin(rng.uniform(0.174, 0.966)))])


def compared(rng, size, heights, rays):
    """Transmittance by the model and by the caster, and the caster's standard error."""
    road, sun, tau = some_road(rng), some_sun(rng), rng.choice([0.1, 0.6])
    tree = habit(rng.uniform(0.2, 0.4), rng.uniform(1, 2.5))
    ground = Ground(road.piece, *rng.uniform(-0.12, 0.12, 2), tree.base_frac, tree.ratio, rng.uniform(1.5, 3))
    slope, panel_m = (ground.slope_east, ground.slope_north), ground.panel_height_m
    cover, height = rng.uniform(0, 0.9, (size, size)), rng.uniform(*heights, (size, size))
    turn, cell_m = rng.uniform(0, 2 * np.pi), rng.choice([15.0, 20.0, 30.0])
    turned = np.array([[np.cos(turn), -np.sin(turn)], [-np.sin(turn), -np.cos(turn)]]) / cell_m
    wood = Wood(cover, height, size / 2 + rng.uniform(0, 1, 2), turned)
    if size == 1:
        grid, views = no_grid(), uniform_views(cover.item(), height.item(), panel_m, *slope)
    else:
        grid = grid_of(cover, height)
        views = grid_views(grid, *wood.place, turned, panel_m, slope=slope)
    met = beam_overlap(views, road, grid, tree, *sun.reshape(2, 1, 1)).item()
    return crown_transmittance(met, tau), *cast(wood, ground, sun, tau, rays, rng)


def test_uniform_stands_beside_any_road_shade_as_ray_cast_crowns_do():
    rng = np.random.default_rng(11)
    model, caster, noise = np.array([compared(rng, 1, (6, 26), 20_000) for _ in range(100)]).T
    error = np.abs(model - caster)
    assert noise.mean() < 0.0015
    assert error.mean() <= 0.003
    assert np.quantile(error, 0.99) <= 0.02


def test_woods_whose_cells_all_differ_shade_as_ray_cast_crowns_do():
    rng = np.random.default_rng(12)
    model, caster, noise = np.array([compared(rng, CELLS, (12, 26), 8_000) for _ in range(60)]).T
    error = np.abs(model - caster)
    assert noise.mean() < 0.0025
    assert error.mean() <= 0.003
    assert np.quantile(error, 0.99) <= 0.02


@pytest.mark.parametrize(("azimuth", "elevation", "expected"), [(90, 30, 0.137), (-90, 30, 0.151)])
def test_the_caster_itself_gives_the_published_figures(azimuth, elevation, expected):
    # The table of test_canopy_published, its first two rows; three standard errors of 100,000 rays.
    road = road_of(straight(), 6.0, 1.75)
    ground = Ground(road.piece, 0.0, 0.0, 0.3, 1.75, 1.9)
    wood = Wood(np.array([[0.5]]), np.array([[18.0]]), np.zeros(2), np.eye(2))
    rng = np.random.default_rng(13)
    found, noise = cast(wood, ground, np.array([azimuth, elevation], float), 0.1, 100_000, rng)
    assert found == pytest.approx(expected, abs=0.0005 + 3 * noise)
