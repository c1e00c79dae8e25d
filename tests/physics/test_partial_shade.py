import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from routesolar.physics.partial_shade import even_frac, hard_shade_frac


def mottled_frac(transmittance: float, blocks: int) -> float:
    """Return what is left of the beam's power: its light, less what uneven light costs."""
    return transmittance * even_frac(transmittance, blocks)


@pytest.mark.parametrize(
    ("plane_wm2", "beam_wm2", "loss_frac"),
    # Martinez-Moreno et al. 2010 as pvlib.shading.direct_martinez gives it: three blocks, one shaded, 30 %.
    [(1000.0, 800.0, 0.38), (800.0, 200.0, 0.11875)],
)
def test_hard_shade_gives_the_published_losses(plane_wm2: float, beam_wm2: float, loss_frac: float) -> None:
    left = plane_wm2 - beam_wm2 + beam_wm2 * hard_shade_frac(0.3, 1, 3)
    assert 1.0 - left / plane_wm2 == pytest.approx(loss_frac, abs=1e-12)


@given(st.floats(0, 1), st.integers(0, 6), st.floats(1, 1000))
def test_hard_shade_agrees_with_the_reference_library(shaded: float, blocks: int, beam_wm2: float) -> None:
    reference = pvlib.shading.direct_martinez(1000.0, beam_wm2, shaded, blocks, 6)
    assert beam_wm2 / 1000.0 * (1.0 - hard_shade_frac(shaded, blocks, 6)) == pytest.approx(reference, abs=1e-12)


def darkest_of_blocks(cover: float, tau: float, blocks: int, rng: np.random.Generator) -> tuple[float, float]:
    """Return the beam at a point, and at a block's darkest place, on average over panels thrown at random.

    Crowns are discs of 3.4 m at random that each let tau through; a block is darkened by all that touch it.
    """
    side, width_m = 400.0, 0.80 / blocks
    count = rng.poisson(-np.log(1 - cover) / (np.pi * 3.4**2) * side**2)
    crowns = cKDTree(rng.uniform(0, side, (count, 2)))
    middles, turns = rng.uniform(20, side - 20, (4000, 2)), rng.uniform(0, np.pi, 4000)
    point, darkest = [], []
    for middle, turn in zip(middles, turns, strict=True):
        along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
        near = crowns.data[crowns.query_ball_point(middle, 6.0)] - middle
        point.append(tau ** np.count_nonzero(np.hypot(*near.T) < 3.4))
        for block in range(blocks):
            offset = (block - (blocks - 1) / 2) * width_m
            outside_m = np.hypot(
                np.maximum(np.abs(near @ along) - 0.65, 0),
                np.maximum(np.abs(near @ across - offset) - width_m / 2, 0),
            )
            darkest.append(tau ** np.count_nonzero(outside_m < 3.4))
    return float(np.mean(point)), float(np.mean(darkest))


@pytest.mark.parametrize("blocks", [1, 3, 6])
@pytest.mark.parametrize(("cover", "tau"), [(0.3, 0.0), (0.6, 0.1), (0.6, 0.6), (0.85, 0.1)])
def test_crowns_over_a_panel_leave_what_throwing_panels_among_them_does(
    cover: float, tau: float, blocks: int
) -> None:
    point, darkest = darkest_of_blocks(cover, tau, blocks, np.random.default_rng(5))
    expected = (1 - cover) ** (1 - tau)
    assert point == pytest.approx(expected, abs=0.025)
    assert mottled_frac(expected, blocks) == pytest.approx(darkest, abs=0.025)


def test_a_little_mottled_shade_costs_as_much_as_measured_on_single_strings() -> None:
    # Published shading impact factors of single strings are 1 to 3 (Deline 2010, from memory).
    for blocks, factor in ((6, 1.27), (3, 1.30), (1, 1.42)):
        assert (1.0 - mottled_frac(0.999, blocks)) / 0.001 == pytest.approx(factor, abs=0.01)


@given(st.floats(0, 1), st.floats(0, 1), st.integers(1, 20))
def test_mottled_shade_never_adds_light_and_more_light_never_costs(a: float, b: float, blocks: int) -> None:
    low, high = sorted((a, b))
    assert 0.0 <= mottled_frac(low, blocks) <= low
    assert mottled_frac(low, blocks) <= mottled_frac(high, blocks) + 1e-15
    assert mottled_frac(low, blocks) <= mottled_frac(low, blocks + 1) + 1e-15


def test_full_sun_and_full_shade_have_no_extra_loss() -> None:
    assert (mottled_frac(1.0, 3), mottled_frac(0.0, 3)) == (1.0, 0.0)
    assert hard_shade_frac(0.0, 0, 3) == 1.0
