"""Clouds as two states of the sky: at every instant the sun is either out or hidden.

Shares are global horizontal irradiance over that of a truly clear sky. Out: nearly clear beam and a bright
diffuse sky. Hidden: no beam, only what the clouds let through. The weight between the two is the
probability that the sun is out. Averaging first and computing after would be wrong wherever the chain
bends (a controller's limit, shade), so the chain runs once per state and mixes the watts.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray
from routesolar.errors import UsageError
from routesolar.physics.bands import (
    HIDDEN_LEAST,
    HIDDEN_RISE,
    EnergyBands,
    Passage,
    StateEnergy,
    energy_bands_wh,
)
from routesolar.physics.day_course import DAY_MIN, light_course

LEAST_PROB, MOST_PROB = 0.01, 0.99
OUT_LEAST, OUT_RISE = 0.96, 0.04  # a cloudless sky is the clear sky itself
HIDDEN_SD = 0.165
USUAL_DAY_MIN, LEAST_DAY_MIN, SLICES = 720.0, 360.0, 24  # of a window, for the course of its light

_PROBS = np.linspace(LEAST_PROB, MOST_PROB, 393)
_OKTA_SUN_OUT_PROB = np.array([0.99, 0.987, 0.964, 0.898, 0.784, 0.628, 0.438, 0.218, 0.01])


class CloudStates(NamedTuple):
    """The two states for given sun-out probabilities; all arrays of one shape, all dimensionless."""

    sun_out_prob: FloatArray
    unobscured_index: FloatArray
    unobscured_beam_index: FloatArray
    obscured_index: FloatArray
    unobscured_sd: FloatArray
    obscured_sd: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """A sky with a name: the two states, and what an observer would see."""

    name: str
    seen: str
    sun_out_prob: float
    unobscured_index: float
    unobscured_beam_index: float
    obscured_index: float
    unobscured_sd: float
    obscured_sd: float

    @property
    def clear_sky_index(self) -> float:
        """Expected global irradiance as a share of the clear sky's."""
        return self.sun_out_prob * self.unobscured_index + (1 - self.sun_out_prob) * self.obscured_index


def sun_out_states(sun_out_prob: ArrayLike) -> CloudStates:
    """Return the two states that go with a sun-out probability, clipped to 0.01-0.99.

    Calibrated on five-minute means of three SURFRAD stations, all of 2018, over the clear sky that every drive
    gets (sky.clear_sky_wm2 with sky.linke_turbidity); "out" is above 0.8 of it. Out: 0.96 to 0.98 on days with
    0.2 to 0.95 of sunshine, 0.97 to 1.00 with more, by station: a cloudless sky is the clear sky itself. The
    mean of the states is within 0.03 of each station's in each season. One straight line serves the hidden sky:
    of days known afterwards, those without any sun have up to 0.05 less, those with 0.05 to 0.2 of sunshine
    0.05 more, and hidden minutes of days with over 0.7 are 0.1 darker, which noon's greater share of the sun
    makes good.
    The beam factor is from one-minute data of Payerne, June 2016 (BSRN). The fuller the sky of clouds, the less
    of the beam is left between them and the thicker they are.
    NaN stays NaN.
    """
    prob = np.clip(np.asarray(sun_out_prob, dtype=np.float64), LEAST_PROB, MOST_PROB)
    unobscured_index = OUT_LEAST + OUT_RISE * prob
    obscured_index = HIDDEN_LEAST + HIDDEN_RISE * prob
    return CloudStates(
        sun_out_prob=prob,
        unobscured_index=unobscured_index,
        unobscured_beam_index=unobscured_index * (1 - 0.65 * (1 - prob) ** 2.2),
        obscured_index=obscured_index,
        unobscured_sd=0.12 - 0.08 * prob,
        obscured_sd=np.full_like(prob, HIDDEN_SD),
    )


def okta_sun_out_prob(okta: ArrayLike) -> FloatArray:
    """Return the sun-out probability under an observed cloud cover of 0-8 eighths.

    Chosen so that the mean of the two states, as a share of that at 0 okta, returns Kasten & Czeplak (1980,
    Solar Energy 24:177, eq. 1) within 0.004 up to 7 okta; at 8 it gives 0.30, between their 0.25 and the 0.35
    of Larson et al. (2016, Renewable Energy 91:11). Linear between whole okta; NaN outside 0-8.
    """
    cover = np.asarray(okta, dtype=np.float64)
    prob = np.interp(cover, np.arange(9), _OKTA_SUN_OUT_PROB, left=np.nan, right=np.nan)
    return np.asarray(prob, dtype=np.float64)


def forecast_sun_out_prob(cloud_frac: ArrayLike, apparent_elevation_deg: ArrayLike) -> FloatArray:
    """Return the sun-out probability under a forecast total cloud fraction.

    A low sun looks through the sides of the clouds, so that they cover more than the fraction seen from
    above: 1 - (1 - C)^(1 + 0.3 min(tan z, 3)), a form after Kauth & Penquite (1967) and Lund (1965), from
    memory; 0.3 is judgement. Not for observed okta, which are seen from below and include the sides.
    At or below the horizon the limit of 3 holds. NaN outside 0-1. Arguments broadcast.
    """
    cover = np.asarray(cloud_frac, dtype=np.float64)
    cover = np.where((cover >= 0) & (cover <= 1), cover, np.nan)
    elevation = np.radians(np.maximum(np.asarray(apparent_elevation_deg, dtype=np.float64), 1.0))
    sides = 0.3 * np.minimum(1 / np.tan(elevation), 3.0)
    prob = np.clip((1 - cover) ** (1 + sides), LEAST_PROB, MOST_PROB)
    return np.asarray(prob, dtype=np.float64)


def irradiance_states(ghi_share: ArrayLike, beam_share: ArrayLike, clear_beam_frac: ArrayLike) -> CloudStates:
    """Return two states whose mean is exactly a given global irradiance, and a given beam.

    `ghi_share` and `beam_share` are global and direct normal irradiance over those of a truly clear sky;
    `clear_beam_frac` is the beam's part of clear global irradiance. Where the beam is not known (NaN) the
    sun-out probability follows from the global share. The states are those of `sun_out_states`, their
    diffuse light scaled to close the sum; a beam that leaves no diffuse light is cut to leave 2 %.
    Shares are taken within 0.01-1.6. NaN in `ghi_share` stays NaN. Arguments broadcast.
    """
    ghi, beam, frac = np.broadcast_arrays(ghi_share, beam_share, clear_beam_frac)
    ghi = np.clip(np.asarray(ghi, dtype=np.float64), 0.01, 1.6)
    known = np.isfinite(beam)
    most_beam = np.where(frac > 0, 0.98 * ghi / np.where(frac > 0, frac, 1.0), 0.0)
    beam = np.minimum(np.where(known, np.maximum(beam, 0.0), 0.0), most_beam)
    states = sun_out_states(np.where(known, _prob_of_beam(beam), _prob_of_global(ghi)))
    prob = states.sun_out_prob
    out_beam = np.where(known, beam, np.minimum(prob * states.unobscured_beam_index, most_beam)) / prob
    out_diffuse = np.maximum(states.unobscured_index - out_beam * frac, 0.02)
    mean_diffuse = prob * out_diffuse + (1 - prob) * states.obscured_index
    scale = (ghi - prob * out_beam * frac) / mean_diffuse
    return states._replace(
        unobscured_index=out_beam * frac + scale * out_diffuse,
        unobscured_beam_index=out_beam,
        obscured_index=scale * states.obscured_index,
    )


def _prob_of_global(ghi_share: FloatArray) -> FloatArray:
    """Return the sun-out probability whose two states have this mean share of clear."""
    states = sun_out_states(_PROBS)
    mean = states.sun_out_prob * states.unobscured_index + (1 - states.sun_out_prob) * states.obscured_index
    return np.asarray(np.interp(ghi_share, mean, _PROBS), dtype=np.float64)


def _prob_of_beam(beam_share: FloatArray) -> FloatArray:
    """Return the sun-out probability whose two states have this mean share of the clear beam."""
    beam = _PROBS * sun_out_states(_PROBS).unobscured_beam_index
    return np.asarray(np.interp(beam_share, beam, _PROBS), dtype=np.float64)


def cloud_cover_clear_share(okta: ArrayLike) -> FloatArray:
    """Return the mean global irradiance under an observed cloud cover as a share of clear.

    Kasten & Czeplak (1980, Solar Energy 24:177, eq. 1), ten years of Hamburg; NaN outside 0-8 okta.
    """
    cover = np.asarray(okta, dtype=np.float64)
    share = 1 - 0.75 * (np.clip(cover, 0, 8) / 8) ** 3.4
    return np.where((cover >= 0) & (cover <= 8), share, np.nan)


def energy_share_bands(
    sun_share: ArrayLike, minutes: ArrayLike, forecast: str, speed_mps: ArrayLike = 0.0
) -> EnergyBands:
    """Return P10, P50 and P90 of a level panel's energy over a time as shares of its truly clear-sky energy.

    `sun_share` is the stated share of the day's daylight with the sun out (global irradiance above 0.8 of
    clear), 0-1; a statement is right on average for what it says. `forecast` says how sure it is: "known"
    (the day's share afterwards), "today", "tomorrow", "week" (errors of 0.12, 0.20, 0.30, standard
    deviation), "climate" (the usual share, not a statement on the day). `minutes` of daylight lie anywhere
    in a day of 12 hours; from 6 hours on they are a whole day, with the light of its course. Driving through
    the clouds shortens the swings. Arguments broadcast; NaN gives NaN. Calibration: see `sun_out_states`.

    Raises:
        UsageError: a share outside 0-1, minutes not above 0, or an unknown forecast word.
    """
    share, minute, speed = np.broadcast_arrays(sun_share, minutes, speed_mps)
    if np.any((share < 0) | (share > 1)):
        raise UsageError("sun_share must lie in 0-1: it is the share of the day with the sun out")
    if np.any(minute <= 0):
        raise UsageError("minutes must be above 0")
    column = (share.size, 1)
    states = sun_out_states(share.reshape(column))
    window = minute.reshape(column)
    daylight = np.where(window < LEAST_DAY_MIN, USUAL_DAY_MIN, window)
    # Two thirds of the way from noon to the earliest, where the day tells as much of a window as on average.
    slice_min, first_min = window / SLICES, window / 2 + (daylight - window) / 3
    after_noon_min = slice_min * np.arange(SLICES) - first_min
    light = light_course(after_noon_min + slice_min / 2, daylight)
    light /= light.sum(axis=1, keepdims=True)
    energy = StateEnergy(
        unobscured_wh=states.unobscured_index * light,
        obscured_wh=states.obscured_index * light,
        sun_out_prob=states.sun_out_prob,
        unobscured_index=states.unobscured_index,
        obscured_index=states.obscured_index,
        unobscured_sd=states.unobscured_sd,
        obscured_sd=states.obscured_sd,
    )
    start_s = 60.0 * (after_noon_min + DAY_MIN / 2)
    passage = Passage(start_s, 60.0 * slice_min, speed.reshape(column), np.zeros(1), daylight)
    whole = np.zeros((1, SLICES), dtype=np.int64)
    bands = energy_bands_wh(energy, passage, whole, forecast)
    return EnergyBands(*(band.reshape(share.shape) for band in bands))


def _named(name: str, seen: str, prob: float, **changed: float) -> Scenario:
    """Return the scenario of a sun-out probability, with the shares that its kind of cloud changes."""
    states = {field: float(value) for field, value in sun_out_states(prob)._asdict().items()}
    return Scenario(name=name, seen=seen, **(states | changed))


SCENARIOS: dict[str, Scenario] = {
    scenario.name: scenario
    for scenario in (
        # SURFRAD 2018, Payerne, Alamosa, Tucson: cloudless days have 0.98-1.02 of clear, by place.
        _named("clear", "0-1 okta, blue sky", 0.97),
        # Untested: between Shapiro (1982), Haurwitz (1948) and Kasten & Czeplak's 0.61 for cirrus.
        _named(
            "thin",
            "high cloud, the sun's disc visible",
            0.75,
            unobscured_index=0.90,
            unobscured_beam_index=0.60,
            obscured_index=0.60,
            unobscured_sd=0.10,
            obscured_sd=0.15,
        ),
        # SURFRAD 2018: on days with 0.7-0.9 of sunshine hidden minutes have 0.59 of clear, with 0.17. That this
        # is the fair sky is judgement; Kasten & Czeplak give 0.93-0.99 for 2-4 okta.
        _named("fair", "2-4 okta, scattered cumulus", 0.80, obscured_index=0.59, obscured_sd=0.17),
        # SURFRAD 2018: days with half the sunshine have 0.73-0.80 of clear, windows within them 0.70-0.78.
        _named("broken", "5-6 okta, sun and cloud in turn", 0.50),
        # Between Kasten & Czeplak's 0.25 and Larson et al.'s (2016) 0.35 under a full cover.
        _named("overcast", "8 okta, the sun's place seldom visible", 0.03),
        # Between Kasten & Czeplak's 0.16 for nimbostratus and their 0.25 for any full cover.
        _named("rain", "8 okta, dark and wet", 0.01, obscured_index=0.20, obscured_sd=0.15),
    )
}
