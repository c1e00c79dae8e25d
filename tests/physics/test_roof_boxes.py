from math import radians, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routesolar.physics.attitude import panel_normal
from routesolar.physics.roof_boxes import Plate, box_dome_frac, box_shadow, box_shadows, plate, sun_in_body

NO_BOX = np.empty((0, 6))


def box(forward: float, right: float, length: float, width: float, height: float) -> list[float]:
    return [forward - length / 2, forward + length / 2, right - width / 2, right + width / 2, 0.0, height]


def traced(panel: Plate, boxes: np.ndarray, sun: np.ndarray, count: int = 400) -> float:
    """Share of a fine grid of panel points whose ray to the sun meets a box: the slab test, in plain numpy."""
    places = (np.arange(count) + 0.5) / count * 2 - 1
    points = panel.middle + places[:, None, None] * panel.half_across + places[None, :, None] * panel.half_along
    hit = np.zeros(points.shape[:2], bool)
    for sides in boxes.reshape(-1, 3, 2):
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = (sides - points[..., None]) / sun[:, None]
        enter, leave = np.nanmax(reach.min(axis=-1), axis=-1), np.nanmin(reach.max(axis=-1), axis=-1)
        hit |= np.maximum(enter, 0.0) <= leave
    return float(hit.mean())


@pytest.mark.parametrize("elevation_deg", [12.0, 20.0, 35.0, 50.0])
def test_a_box_ahead_throws_its_shadow_by_the_cotangent(elevation_deg: float) -> None:
    # Box .4 m high, its rear side .35 m ahead of the panel's edge; the panel is 1.3 m long, the box wider.
    flat = plate((1.3, 0.8), (0.0, 0.0, 0.0), 0.0, 0.0, 3)
    sun = sun_in_body(0.0, elevation_deg, 0.0, 0.0)
    expected = np.clip((0.4 / tan(radians(elevation_deg)) - 0.35) / 1.3, 0.0, 1.0)
    share, touched = box_shadow(flat, np.array([box(1.5, 0.0, 1.0, 1.0, 0.4)]), sun)
    assert share == pytest.approx(expected, abs=1e-9)
    assert touched == (3 if expected > 0 else 0)


def test_a_box_at_the_side_touches_the_blocks_on_its_side_first() -> None:
    # Sun from the right at 45 deg over a .3 m box against the panel's right edge: .3 of .9 m is one block.
    flat = plate((1.3, 0.9), (0.0, 0.0, 0.0), 0.0, 0.0, 3)
    share, touched = box_shadow(
        flat, np.array([box(0.0, 0.65, 3.0, 0.4, 0.3)]), sun_in_body(90.0, 45.0, 0.0, 0.0)
    )
    assert share == pytest.approx(1 / 3, abs=1e-9)
    assert touched == 1


def test_a_high_sun_a_lower_box_and_no_box_shade_nothing() -> None:
    flat = plate((1.3, 0.8), (0.0, 0.0, 0.1), 0.0, 0.0, 3)
    assert box_shadow(flat, np.array([box(1.2, 0.0, 1.0, 1.0, 0.4)]), sun_in_body(0.0, 90.0, 0.0, 0.0)) == (
        0.0,
        0,
    )
    assert box_shadow(flat, np.array([box(1.2, 0.0, 1.0, 1.0, 0.09)]), sun_in_body(0.0, 10.0, 0.0, 0.0)) == (
        0.0,
        0,
    )
    assert box_shadow(flat, NO_BOX, sun_in_body(0.0, 10.0, 0.0, 0.0)) == (0.0, 0)
    assert box_dome_frac(flat, NO_BOX) == 1.0


def test_a_panel_that_looks_away_from_the_sun_is_in_its_own_shadow() -> None:
    leaning = plate((1.3, 0.8), (0.0, 0.0, 0.0), 60.0, 0.0, 3)
    assert box_shadow(leaning, NO_BOX, sun_in_body(180.0, 20.0, 0.0, 0.0)) == (1.0, 3)


@settings(max_examples=40)
@given(seed=st.integers(0, 2**32 - 1))
def test_shadows_of_several_boxes_agree_with_tracing_rays(seed: int) -> None:
    random = np.random.default_rng(seed)
    panel = plate(
        (random.uniform(0.5, 2.0), random.uniform(0.3, 1.2)),
        (random.uniform(-1, 1), random.uniform(-0.5, 0.5), random.uniform(0, 0.3)),
        random.choice([0.0, random.uniform(0, 30)]),
        random.uniform(0, 360),
        3,
    )
    boxes = np.array(
        [
            box(
                *random.uniform(-2, 2, 1),
                *random.uniform(-1, 1, 1),
                *random.uniform(0.2, 1.5, 2),
                random.uniform(0.1, 0.6),
            )
            for _ in range(random.integers(1, 4))
        ]
    )
    sun = sun_in_body(
        random.uniform(0, 360), random.uniform(3, 80), random.uniform(0, 360), random.uniform(-0.1, 0.1)
    )
    if np.dot(np.cross(panel.half_along, panel.half_across), sun) <= 0:
        return
    # Each edge of a shadow along the lines may be off by half their spacing, 1/72 of the panel.
    assert box_shadow(panel, boxes, sun)[0] == pytest.approx(traced(panel, boxes, sun), abs=1 / 72)


def test_the_open_dome_beside_a_wall_is_the_half_canyon() -> None:
    # A panel's middle line at distance w/2 from a very long wall of height h sees (1 + sin b)/2 of its
    # dome, tan b = distance / height; averaged over the panel's width by a closed sum in the test.
    strip = plate((0.05, 1.0), (0.0, 0.0, 0.0), 0.0, 0.0, 3)
    wall = np.array([box(0.0, 0.9, 4000.0, 0.2, 0.5)])
    distance = 0.8 - ((np.arange(2000) + 0.5) / 2000 - 0.5)
    expected = np.mean((1 + distance / np.hypot(distance, 0.5)) / 2)
    assert box_dome_frac(strip, wall) == pytest.approx(expected, abs=0.005)


@given(st.floats(0, 360), st.floats(1, 89), st.floats(0, 360), st.floats(-0.15, 0.15))
def test_the_sun_in_the_vehicles_frame_is_seen_at_the_panels_incidence(
    azimuth: float, elevation: float, heading: float, grade: float
) -> None:
    in_body = sun_in_body(azimuth, elevation, heading, grade)
    az, el = np.radians([azimuth, elevation])
    in_world = np.array([np.cos(el) * np.sin(az), np.cos(el) * np.cos(az), np.sin(el)])
    for tilt, facing in ((0.0, 0.0), (90.0, 0.0), (90.0, 90.0)):
        toward = panel_normal(tilt, facing, 0.0, grade, heading)
        body = plate((1.0, 1.0), (0, 0, 0), tilt, facing, 1)
        normal = np.cross(body.half_along, body.half_across) * 4
        assert np.dot(normal, in_body) == pytest.approx(np.dot(toward, in_world), abs=1e-9)


def test_along_a_drive_shadows_turn_with_the_heading_and_night_has_none() -> None:
    flat = plate((1.3, 0.8), (0.0, 0.0, 0.0), 0.0, 0.0, 3)
    boxes = np.array([box(1.2, 0.0, 1.0, 1.0, 0.4)])
    azimuth, elevation = np.array([[30.0, 30.0, 30.0]]), np.array([[20.0, 20.0, -5.0]])
    share, touched = box_shadows(flat, boxes, azimuth, elevation, np.array([30.0, 210.0, 30.0]), np.zeros(3))
    assert share[0, 0] > 0.3
    assert (share[0, 1], touched[0, 1]) == (0.0, 0.0)
    assert np.isnan(share[0, 2])
    assert np.isnan(touched[0, 2])
