"""The ramps keep their order for every eye and on grey paper."""

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from routesolar.report.colours import LOSS, POWER, classes, round_step

# Machado, Oliveira & Fernandes 2009 (IEEE TVCG 15:1291), full severity, on linear light; from memory.
DEFICIENCIES = {
    "normal": np.eye(3),
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def lab(colours, deficiency):
    """CIELAB (CIE 15) of sRGB colours (IEC 61966-2-1, D65) as seen with a deficiency."""
    encoded = np.array([to_rgb(colour) for colour in colours])
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ np.array(DEFICIENCIES[deficiency]).T, 0, 1)
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    ) / np.array([[0.9505], [1.0], [1.089]])
    xyz = seen @ to_xyz.T
    cube = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack(
        [116 * cube[:, 1] - 16, 500 * (cube[:, 0] - cube[:, 1]), 200 * (cube[:, 1] - cube[:, 2])], 1
    )


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
@pytest.mark.parametrize(("ramp", "sign"), [(POWER, 1), (LOSS, -1)], ids=["power", "loss"])
def test_lightness_keeps_the_order_for_every_eye(ramp, sign, deficiency):
    lightness = lab(ramp.colours(64), deficiency)[:, 0] * sign
    assert np.all(np.diff(lightness) > 0)
    assert np.ptp(lightness) > 50  # of CIELAB's 100


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
@pytest.mark.parametrize("ramp", [POWER, LOSS], ids=["power", "loss"])
def test_neighbouring_classes_can_be_told_apart(ramp, deficiency):
    # A difference of 2.3 in CIELAB is just noticeable side by side (Mahy et al. 1994, from memory);
    # three times that for thin lines apart from their key.
    steps = np.linalg.norm(np.diff(lab(ramp.colours(7), deficiency), axis=0), axis=1)
    assert steps.min() > 7


def test_the_power_ramp_runs_from_blue_violet_to_yellow():
    first, last = (np.array(to_rgb(colour)) for colour in (POWER.colours(2)[0], POWER.colours(2)[1]))
    assert first[2] == first.max()
    assert last[2] == last.min()


def test_nothing_has_its_own_class():
    scale = classes(100.0, POWER)
    assert scale.of(np.array([0.0, np.nan])).tolist() == [-1, -1]
    assert scale.of(np.array([1e-6])).tolist() == [0]


@pytest.mark.parametrize("highest", [0.0, 0.03, 1.0, 7.0, 99.9, 100.0, 140.0, 140.1, 2345.0])
def test_classes_are_few_round_and_reach_the_highest(highest):
    scale = classes(highest, POWER)
    assert 1 <= len(scale.colours) <= 7
    assert scale.step * len(scale.colours) >= highest
    assert f"{scale.step:.6e}".split("e")[0].rstrip("0").rstrip(".") in "1 1.5 2 2.5 3 4 5 6 8".split()
    assert scale.of(np.array([highest or 1.0]))[0] == len(scale.colours) - 1


def test_values_fall_between_their_bounds():
    scale = classes(140.0, POWER)
    values = np.random.default_rng(3).uniform(0.01, 140, 500)
    index = scale.of(values)
    assert np.all(values >= scale.step * index)
    assert np.all(values < scale.step * (index + 1) + 1e-6)


@pytest.mark.parametrize(("least", "step"), [(1, 1), (1.1, 2), (2.1, 2.5), (3, 5), (6, 10), (0.03, 0.05)])
def test_steps_are_round(least, step):
    assert round_step(least) == pytest.approx(step)
