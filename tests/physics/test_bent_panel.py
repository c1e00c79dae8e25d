import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.physics.bent_panel import bent_strips


def normals(tilt_deg: float, facing_deg: float, curvature_deg: float) -> np.ndarray:
    strips = bent_strips(tilt_deg, facing_deg, curvature_deg)
    tilt, facing = np.radians([[s.tilt_deg, s.facing_deg] for s in strips]).T
    return np.stack([np.sin(tilt) * np.cos(facing), np.sin(tilt) * np.sin(facing), np.cos(tilt)], axis=1)


@pytest.mark.parametrize("curvature_deg", [5.0, 15.0, 30.0, 60.0])
def test_a_bent_panel_under_an_overhead_sun_gets_the_mean_cosine_of_its_arc(curvature_deg: float) -> None:
    # Closed form: the mean of cos over -c/2..c/2 is sin(c/2)/(c/2).
    half = np.radians(curvature_deg / 2)
    mean = normals(0.0, 0.0, curvature_deg)[:, 2].mean()
    assert mean == pytest.approx(np.sin(half) / half, abs=2e-3)


def test_the_usual_bend_of_a_roof_costs_what_was_published_for_curved_roofs() -> None:
    # Roofs of 1-3 m radius lose 2-10 % by their curve (Ota 2022, from memory); over .8 m that is 15-46 deg.
    # This counts the light alone, under a sun overhead, so it lies at or below that.
    for radius_m in (1.0, 3.0):
        loss = 1.0 - normals(0.0, 0.0, np.degrees(0.8 / radius_m))[:, 2].mean()
        assert 0.0 < loss < 0.10


def test_a_flat_panel_is_one_strip_and_the_middle_stands_first() -> None:
    assert bent_strips(7.0, 33.0, 0.0) == ((1.0, 7.0, 33.0, 0.0),)
    first = bent_strips(7.0, 33.0, 20.0)[0]
    assert (first.tilt_deg, first.facing_deg) == pytest.approx((7.0, 33.0))


@given(st.floats(0, 60), st.floats(0, 360), st.floats(0.1, 120))
def test_strips_share_the_area_and_spread_evenly_about_the_panel(
    tilt: float, facing: float, bend: float
) -> None:
    strips = bent_strips(tilt, facing, bend)
    assert sum(strip.area_frac for strip in strips) == pytest.approx(1.0)
    ordered = normals(tilt, facing, bend)[np.argsort([strip.across_frac for strip in strips])]
    steps = np.degrees(np.arccos(np.clip((ordered[1:] * ordered[:-1]).sum(axis=1), -1, 1)))
    assert steps == pytest.approx([bend / 5] * 4, abs=1e-4)


def test_the_right_side_of_a_level_bent_panel_leans_right() -> None:
    right = max(bent_strips(0.0, 0.0, 30.0), key=lambda strip: strip.across_frac)
    assert (right.tilt_deg, right.facing_deg) == pytest.approx((12.0, 90.0))
