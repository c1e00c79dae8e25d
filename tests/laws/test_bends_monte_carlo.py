"""Shade on bends at the usual step against ray-cast crowns beside the true line (tests/monte_carlo.py)."""

from dataclasses import replace

import numpy as np
import pytest
from bends import hairpins_m, route_through
from monte_carlo import Ground, Wood, cast

from routesolar.model.shade import cast_shade
from routesolar.physics.crowns import OVERHANG
from routesolar.physics.opening import overhang_at
from routesolar.timetable import drive
from routesolar.trip.route import Plan
from routesolar.trip.surroundings import Canopy, Terrain

pytestmark = pytest.mark.compiled

COVER, HEIGHT_M, WIDTH_M, LANE_M, PANEL_M, TAU = 0.6, 15.0, 12.0, 1.75, 2.4, 0.1
PLACES, RAYS, REACH_M = 40, 1000, 150.0


def ray_cast(line_m: np.ndarray, start_m: float, end_m: float, sun: np.ndarray, rng: np.random.Generator):
    """Mean transmittance of rays from places all along a stretch of a line with a point every metre."""
    radius_m = 0.35 * HEIGHT_M / 1.75
    trunks_m = WIDTH_M / 2 + overhang_at(COVER, OVERHANG["opening"]) * radius_m
    wood = Wood(np.array([[COVER]]), np.array([[HEIGHT_M]]), np.zeros(2), np.eye(2))
    along_m = np.arange(len(line_m)) * 1.0
    left = []
    for at_m in start_m + (np.arange(PLACES) + 0.5) / PLACES * (end_m - start_m):
        before, here, after = (_place(line_m, along_m, at_m + away_m) for away_m in (-1.0, 0.0, 1.0))
        ahead = (after - before) / np.hypot(*(after - before))
        vehicle = here + LANE_M * np.array([ahead[1], -ahead[0]])
        near = np.flatnonzero(np.hypot(*(line_m[:-1] - vehicle).T) < REACH_M)
        ends = np.hstack(
            [line_m[near] - vehicle, line_m[near + 1] - vehicle, np.full((len(near), 1), trunks_m)]
        )
        left.append(cast(wood, Ground(ends, 0.0, 0.0, 0.3, 1.75, PANEL_M), sun, TAU, RAYS, rng)[0])
    return np.mean(left)


def _place(line_m, along_m, at_m):
    return np.array([np.interp(at_m, along_m, side) for side in line_m.T])


@pytest.mark.parametrize("radius_m", [20.0, 100.0])
@pytest.mark.parametrize(("azimuth", "elevation"), [(130.0, 60.0), (95.0, 32.0)])
def test_segments_of_50_m_on_a_hairpin_are_shaded_as_ray_cast_crowns_do(radius_m, azimuth, elevation):
    line_m = hairpins_m(radius_m, turns=3, straight_m=80.0)
    segments = drive(route_through(line_m), np.zeros(1), plan=Plan(speed_mps=10.0))
    n = segments.count
    wood = Canopy.uniform(n, cover_frac=COVER, height_m=HEIGHT_M, road_width_m=WIDTH_M)
    canopy = replace(wood, crown_transmittance_frac=np.full((1, 1), TAU))
    sun = np.full((1, n), azimuth), np.full((1, n), elevation)
    shade = cast_shade(segments, canopy, Terrain.flat(n), *sun, PANEL_M).beam_transmittance_frac[0]
    rng = np.random.default_rng(21)
    middle = slice(2, n - 2)
    ends_m = segments.along_m, segments.along_m + segments.length_m
    expected = np.array(
        [ray_cast(line_m, a, b, np.array([azimuth, elevation]), rng) for a, b in zip(*ends_m, strict=True)]
    )
    # The caster's means are good to .002; between the model's points the road turns by some eight degrees.
    error = shade[middle] - expected[middle]
    assert abs(error.mean()) < 0.005
    assert np.abs(error).max() < 0.025
