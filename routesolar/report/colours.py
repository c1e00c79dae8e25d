"""Colours of measured quantities: two ramps of our own, and the classes that use them.

The ramps are curves in OKLab (Ottosson 2020, "A perceptual color space for image processing"; matrices
from memory): lightness changes evenly along them, so order survives colour blindness, grey printing and glare.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from routesolar.trip.arrays import FloatArray, IntArray

# Exactly nothing: night, or no value. Beyond the ramps' ends, so that it differs in grey too.
NOTHING = "#101216"
NO_LOSS = "#ffffff"
_MOST_CLASSES = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramp:
    """A curve through OKLCh: lightness runs evenly between its ends, hue and chroma through their points."""

    lightness: tuple[float, float]
    chroma: Sequence[float]
    hue_deg: Sequence[float]

    def colours(self, count: int) -> list[str]:
        """Return `count` colours from one end to the other as "#rrggbb"."""
        share = np.linspace(0, 1, count) if count > 1 else np.array([1.0])
        lightness = np.interp(share, (0, 1), self.lightness)
        chroma = np.interp(share, np.linspace(0, 1, len(self.chroma)), self.chroma)
        hue = np.radians(np.interp(share, np.linspace(0, 1, len(self.hue_deg)), self.hue_deg))
        lab = np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
        bytes_ = np.round(255 * _encoded(_linear_rgb(lab))).astype(int)
        return ["#{:02x}{:02x}{:02x}".format(*row) for row in bytes_.tolist()]


# From deep dusk blue over rust to pale noon: more is lighter.
POWER = Ramp(lightness=(0.30, 0.91), chroma=(0.10, 0.115, 0.135, 0.14, 0.11), hue_deg=(278, 325, 390, 420, 455))
# From pale straw to deep fir: more lost is darker.
LOSS = Ramp(lightness=(0.93, 0.34), chroma=(0.03, 0.085, 0.10, 0.08, 0.055), hue_deg=(105, 130, 155, 180, 205))


@dataclass(frozen=True, slots=True, kw_only=True)
class Classes:
    """Equal classes from zero up: class i holds step * i up to step * (i + 1), in colour i."""

    step: float
    colours: tuple[str, ...]

    def of(self, values: FloatArray) -> IntArray:
        """Return each value's class; -1 for exactly zero and for NaN. The last class has no upper end."""
        known = np.nan_to_num(values, nan=0.0)
        index = np.floor(known / self.step + 1e-9).astype(np.int64)
        return np.where(known > 0, np.clip(index, 0, len(self.colours) - 1), -1)


def classes(highest: float, ramp: Ramp) -> Classes:
    """Return at most seven classes with round bounds that reach `highest`; no more than needed."""
    highest = highest if highest > 0 else 1.0
    step = round_step(highest / _MOST_CLASSES, (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10))
    count = max(1, math.ceil(highest / step - 1e-9))
    return Classes(step=step, colours=tuple(ramp.colours(count)))


def watt_colours(power_w: FloatArray) -> list[str]:
    """Return the colours that pages and pictures give to the segments of a drive."""
    scale = classes(float(power_w.max(initial=0)), POWER)
    return [NOTHING if group < 0 else scale.colours[group] for group in scale.of(power_w).tolist()]


def round_step(least: float, factors: Sequence[float] = (1, 2, 2.5, 5, 10)) -> float:
    """Return the smallest of the factors times a power of ten that is not below `least`."""
    decade = 10.0 ** math.floor(math.log10(least))
    factor = next(factor for factor in factors if factor * decade >= least * (1 - 1e-9))
    return factor * decade


def is_dark(colour: str) -> bool:
    """Tell whether white letters stand out from a colour better than black ones (contrast as in WCAG 2.1)."""
    encoded = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in encoded]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return (luminance + 0.05) ** 2 < 1.05 * 0.05


def _linear_rgb(lab: FloatArray) -> FloatArray:
    to_cone = np.array(
        [[1, 0.3963377774, 0.2158037573], [1, -0.1055613458, -0.0638541728], [1, -0.0894841775, -1.2914855480]]
    )
    to_rgb = np.array(
        [
            [4.0767416621, -3.3077115913, 0.2309699292],
            [-1.2684380046, 2.6097574011, -0.3413193965],
            [-0.0041960863, -0.7034186147, 1.7076147010],
        ]
    )
    rgb: FloatArray = (lab @ to_cone.T) ** 3 @ to_rgb.T
    return np.clip(rgb, 0, 1)


def _encoded(linear: FloatArray) -> FloatArray:
    """Return sRGB's encoding of linear light (IEC 61966-2-1)."""
    encoded: FloatArray = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return encoded


def rgba(colour: str, alpha: FloatArray) -> NDArray[np.uint8]:
    """Return one colour with the given opacities (0-1) as an RGBA picture."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    picture = np.empty((*alpha.shape, 4), dtype=np.uint8)
    picture[..., :3] = red, green, blue
    picture[..., 3] = np.round(255 * alpha)
    return picture
