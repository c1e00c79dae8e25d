import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

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


def test_a_little_mottled_shade_costs_one_point_three_times_itself() -> None:
    # Judgement within the published shading impact factors 1-3 of a single string (Deline 2010, from memory).
    for blocks, factor in ((3, 1.3), (1, 1.9)):
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
