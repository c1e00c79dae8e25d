"""How much leaf deciduous trees carry on a date, and what a crown then lets through.

Dates come from two published lines, each for its kind of climate. They describe an average year: in one
wood the same species leafs out up to three weeks apart from year to year (Harvard Forest, HF003), so
within a fortnight of the ramps the truth may be either state.

Mild-winter climates (Europe, the western Americas, the southern hemisphere) follow the EMEP latitude model
for deciduous forest (Simpson et al. 2012, Atmos. Chem. Phys. 12:7825; UNECE Mapping Manual): leaves unfold
on day 105 at 50 deg N and 1.5 d later per degree north, and fall about day 297, 2 d earlier per degree.
Eastern North America and eastern Asia leaf out later and drop sooner: their line is tied to Harvard Forest
(42.5 deg N, 350 m: leaves emerge about day 125, O'Keefe, HF003, 1990-2014; half have fallen about
day 291, from memory), with Hopkins' 4 d per degree (1920, J. Wash. Acad. Sci. 10:34) south of it and EMEP's
slopes north. Leaves unfold 27 d later per km of height (Richardson et al. 2006, Glob. Change Biol. 12:1174;
Hopkins has 33) and fall 10 d earlier (EMEP).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray

YEAR_D = 365.25
TROPIC_DEG = 23.44  # within, leaves stay on; leaf fall in dry seasons is not modelled
UNFOLDING_LATER_D_PER_KM = 27.0
FALL_SOONER_D_PER_KM = 10.0
RAMP_D = 5.0  # logistic: a tenth to nine tenths in 22 days; leaves grow for 19 (Sambe Forest) to 22 (HF003)
HALF_LEAF_D = RAMP_D * np.log(9.0)  # from unfolding, a tenth of the leaf area, to half of it


class SeasonLine(NamedTuple):
    """Days of the year when leaves unfold and fall at sea level, and their change per degree of latitude.

    A pair of changes holds (equatorward, poleward) of `latitude_deg`: unfolding comes so much later, fall so
    much sooner per degree away from the equator.
    """

    latitude_deg: float
    unfolding_day: float
    fall_day: float
    unfolding_d_per_deg: tuple[float, float]
    fall_d_per_deg: tuple[float, float]


MILD = SeasonLine(50.0, 105.0, 297.0, (1.5, 1.5), (2.0, 2.0))
COLD_EAST = SeasonLine(42.5, 115.5, 294.5, (4.0, 1.5), (4.0, 2.0))


def day_of_year(utc_s: ArrayLike) -> FloatArray:
    """Return the day of the year (d, 1.0 at the start of 1 January UTC) of seconds since 1970; any shape."""
    seconds = np.asarray(utc_s, dtype=np.float64)
    moments = np.floor(seconds).astype("datetime64[s]")
    year_start_s = moments.astype("datetime64[Y]").astype("datetime64[s]").astype(np.int64)
    days: FloatArray = (seconds - year_start_s) / 86_400.0 + 1.0
    return days


def leaf_frac(
    day: ArrayLike, latitude_deg: ArrayLike, longitude_deg: ArrayLike, elevation_m: ArrayLike
) -> FloatArray:
    """Return the share of their full leaf area that deciduous trees carry, 0 to 1, on a day of the year (UTC).

    Logistic ramps in spring and autumn around the dates of this module's lines. The southern hemisphere
    is half a year on. Within the tropics leaves are on all year. Error of the dates: about a fortnight.
    Arguments broadcast against each other; NaN gives NaN.
    """
    day, latitude_deg, longitude_deg, elevation_m = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (day, latitude_deg, longitude_deg, elevation_m))
    )
    unfolding_day, fall_day = season_days(latitude_deg, longitude_deg, elevation_m)
    half_leaf_day = unfolding_day + HALF_LEAF_D
    middle_day = (half_leaf_day + fall_day) / 2
    from_middle_d = (day - middle_day + YEAR_D / 2) % YEAR_D - YEAR_D / 2
    half_season_d = (fall_day - half_leaf_day) / 2
    leaf = _logistic((half_season_d + from_middle_d) / RAMP_D) * _logistic(
        (half_season_d - from_middle_d) / RAMP_D
    )
    known = ~np.isnan(day + elevation_m)
    return np.where((np.abs(latitude_deg) <= TROPIC_DEG) & known, 1.0, leaf)


def season_days(
    latitude_deg: FloatArray, longitude_deg: FloatArray, elevation_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the days of the year when leaves unfold and when half of them have fallen.

    Not wrapped to 1-366: south of the equator both are half a year on, and the fall lies in the next year.
    """
    mild, cold = (_at_latitude(line, np.abs(latitude_deg)) for line in (MILD, COLD_EAST))
    cold_east = (latitude_deg > 0) & (((longitude_deg > -100) & (longitude_deg < -50)) | (longitude_deg > 100))
    half_year_d = np.where(latitude_deg < 0, YEAR_D / 2, 0.0)
    unfolding_day = np.where(cold_east, cold[0], mild[0]) + UNFOLDING_LATER_D_PER_KM * elevation_m / 1000
    fall_day = np.where(cold_east, cold[1], mild[1]) - FALL_SOONER_D_PER_KM * elevation_m / 1000
    return unfolding_day + half_year_d, fall_day + half_year_d


def _at_latitude(line: SeasonLine, latitude_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    away_deg = latitude_deg - line.latitude_deg
    side = np.where(away_deg > 0, 1, 0)
    unfolding_day = line.unfolding_day + np.take(line.unfolding_d_per_deg, side) * away_deg
    fall_day = line.fall_day - np.take(line.fall_d_per_deg, side) * away_deg
    return unfolding_day, fall_day


def _logistic(x: FloatArray) -> FloatArray:
    return 1.0 / (1.0 + np.exp(-x))


def crown_transmittance_frac(
    leaf_frac: ArrayLike,
    evergreen_frac: ArrayLike,
    leaf_on_frac: float = 0.10,
    leaf_off_frac: float = 0.60,
    evergreen_transmittance_frac: float = 0.08,
) -> FloatArray:
    """Return the share of the beam that one crown lets through, averaged over a mixed stand.

    Single crowns pass .08-.38 of the sun in leaf and .46-.73 bare (Brown & Gillespie 1990, Arboric. Urban
    For. 16:158, global radiation behind nine species), .013-.053 and .40-.52 of the direct beam (Konarska
    et al. 2014, Theor. Appl. Climatol. 117:363, from memory), a pine .05. Within a crown light falls off
    exponentially with leaf area (Beer), so that half the leaves pass the geometric mean. Among crowns the
    absorptances 1 - tau are averaged: the beam left by crowns placed at random is exp(-sum (1-tau) X),
    linear in them. `evergreen_frac` is the evergreens' share of the crown area. NaN gives NaN.
    """
    leaf, evergreen = np.asarray(leaf_frac, dtype=np.float64), np.asarray(evergreen_frac, dtype=np.float64)
    deciduous = leaf_off_frac * (leaf_on_frac / leaf_off_frac) ** leaf
    transmittance: FloatArray = evergreen * evergreen_transmittance_frac + (1.0 - evergreen) * deciduous
    return transmittance


def crown_doubt_frac(leaf_frac: ArrayLike, evergreen_frac: ArrayLike) -> FloatArray:
    """Return how far `crown_transmittance_frac` may be off for a stand, as one standard deviation.

    Judgement on the measurements named there: eight in ten stands in leaf pass .05 to .15 (sd .04), bare ones
    .50 to .70 (.08), evergreen ones .04 to .12 (.03). NaN gives NaN.
    """
    leaf, evergreen = np.asarray(leaf_frac, dtype=np.float64), np.asarray(evergreen_frac, dtype=np.float64)
    doubt: FloatArray = evergreen * 0.03 + (1.0 - evergreen) * (leaf * 0.04 + (1.0 - leaf) * 0.08)
    return doubt
