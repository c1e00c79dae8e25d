"""What glass lets in, against pvlib and published values."""

from itertools import pairwise

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from oracles import Published, published

from routesolar.physics import glass


@pytest.mark.parametrize("known", published("sky.csv", "beam_modifier"), ids=str)
def test_glass_passes_the_beam_as_published(known: Published) -> None:
    assert (
        abs(glass.beam_modifier(np.cos(np.radians(known.inputs["incidence_deg"]))) - known.value)
        <= known.tolerance
    )


@given(st.floats(0, 180))
def test_glass_passes_the_beam_as_in_pvlib(incidence: float) -> None:
    ours = glass.beam_modifier(np.cos(np.radians(incidence)))
    assert abs(ours - pvlib.iam.physical(incidence, n=1.526, K=4.0, L=0.002)) < 1e-9


def test_glass_passes_all_at_square_incidence_and_nothing_from_the_side_or_behind() -> None:
    assert glass.beam_modifier(1.0) == pytest.approx(1, abs=1e-15)
    assert glass.beam_modifier(0.0) == 0
    assert glass.beam_modifier(-0.5) == 0
    assert np.isnan(glass.beam_modifier(np.nan))


@given(st.floats(0, 1), st.floats(0, 1))
def test_the_squarer_the_more_passes(one: float, other: float) -> None:
    low, high = sorted((one, other))
    # Between 0 and 20 deg the curve is flat to rounding.
    assert 0 <= glass.beam_modifier(low) <= glass.beam_modifier(high) + 1e-12 <= 1 + 1e-11


@pytest.mark.parametrize("known", published("sky.csv", "sky_modifier"), ids=str)
def test_glass_passes_the_sky_as_published(known: Published) -> None:
    assert abs(glass.diffuse_modifiers(known.inputs["tilt_deg"])[0] - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("sky.csv", "ground_modifier"), ids=str)
def test_glass_passes_the_ground_as_published(known: Published) -> None:
    assert abs(glass.diffuse_modifiers(known.inputs["tilt_deg"])[1] - known.value) <= known.tolerance


def test_diffuse_modifiers_are_pvlibs_to_the_width_of_its_steps() -> None:
    tilt = np.linspace(0, 90, 19)
    theirs = pvlib.iam.marion_diffuse("physical", tilt)
    sky_modifier, ground_modifier = glass.diffuse_modifiers(tilt)
    # pvlib sums over whole degrees: it stands 3e-5 beside the integral, more where little ground is seen.
    assert np.abs(sky_modifier - theirs["sky"]).max() < 5e-5
    assert np.abs(ground_modifier - theirs["ground"])[tilt >= 20].max() < 3e-4


@pytest.mark.parametrize("tilt", [0.0, 0.26, 3.37, 7.81, 14.03, 25.26, 45.27, 61.74, 89.76, 90.0, 120.0])
def test_diffuse_modifiers_are_the_integral_over_the_dome(tilt: float) -> None:
    # Second formula: the definition, summed over zenith and azimuth in the world's frame; pvlib's modifier.
    # Half the rows lie in the belt along the horizon where a plane sees its share of the ground.
    edges = np.radians([0, max(90 - tilt, 0), 90])
    rows = (np.arange(750) + 0.5) / 750
    zenith = np.concatenate([low + rows * (high - low) for low, high in pairwise(edges)])
    width = np.repeat(np.diff(edges), 750)
    azimuth = (np.arange(1500) + 0.5) / 1500 * np.pi
    level, lean = np.cos(np.radians(tilt)), np.sin(np.radians(tilt))
    for sign, ours in zip((1, -1), glass.diffuse_modifiers(tilt), strict=True):
        cosine = np.maximum(
            sign * np.cos(zenith)[:, None] * level + np.sin(zenith)[:, None] * np.cos(azimuth) * lean, 0
        )
        weight = cosine * (width * np.sin(zenith))[:, None]
        if weight.sum() < 1e-9:  # the level plane sees no ground
            assert ours == 0
            continue
        modifier = pvlib.iam.physical(np.degrees(np.arccos(cosine)), n=1.526, K=4.0, L=0.002)
        assert abs(ours - (modifier * weight).sum() / weight.sum()) < 1e-5


def test_diffuse_modifiers_keep_shape_and_gaps() -> None:
    tilt = np.array([[0.0, 10.0], [np.nan, 90.0]])
    for modifier in glass.diffuse_modifiers(tilt):
        assert modifier.shape == (2, 2)
        assert np.array_equal(np.isnan(modifier), np.isnan(tilt))
    upright = [float(m[1, 1]) for m in glass.diffuse_modifiers(tilt)]
    assert upright[0] == pytest.approx(upright[1], abs=1e-12)
