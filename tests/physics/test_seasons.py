"""Leaf dates against published observations, crown transmittances against measured trees."""

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import poisson

from routesolar.physics.seasons import (
    TROPIC_DEG,
    YEAR_D,
    crown_transmittance_frac,
    day_of_year,
    leaf_frac,
)

PUBLISHED = Path(__file__).parents[1] / "published" / "leaf_dates.csv"
OBSERVED = list(csv.DictReader(PUBLISHED.read_text(encoding="utf-8").splitlines()))
DAYS = np.arange(1.0, 366.0)


def ramp_day(latitude_deg, longitude_deg, elevation_m, share, ramp):
    """The day (1-365) on which the leaf area passes `share` while it grows (spring) or falls (autumn)."""
    days = np.arange(1.0, 366.0, 0.1)
    leaf = leaf_frac(days, latitude_deg, longitude_deg, elevation_m)
    following = np.roll(leaf, -1)
    crossing = (
        (leaf < share) & (following >= share) if ramp == "spring" else (leaf >= share) & (following < share)
    )
    assert np.count_nonzero(crossing) == 1
    return days[crossing][0]


class TestLeafDates:
    @pytest.mark.parametrize("row", OBSERVED, ids=lambda row: f"{row['place']}-{row['leaf_frac']}")
    def test_observed(self, row):
        place = (float(row["latitude_deg"]), float(row["longitude_deg"]), float(row["elevation_m"]))
        day = ramp_day(*place, float(row["leaf_frac"]), row["ramp"])
        assert day == pytest.approx(float(row["day"]), abs=float(row["tolerance_d"]))

    def test_emep_latitude_model(self):
        # UNECE Mapping Manual: unfolding day 105, season's end day 297 at 50 N; 1.5 d later and 2 d sooner
        # per degree north. Unfolding is a tenth of the leaf area here.
        assert ramp_day(50, 10, 0, 0.1, "spring") == pytest.approx(105, abs=0.2)
        assert ramp_day(60, 10, 0, 0.1, "spring") == pytest.approx(120, abs=0.2)
        assert ramp_day(50, 10, 0, 0.5, "autumn") == pytest.approx(297, abs=0.2)
        assert ramp_day(60, 10, 0, 0.5, "autumn") == pytest.approx(277, abs=0.2)

    def test_hopkins_law_in_eastern_north_america(self):
        # Hopkins 1920: 4 d later per degree north, 4 d later per 400 ft;
        # Hubbard Brook has 2.7 +- .4 d per 100 m (Richardson et al. 2006).
        spring = ramp_day(38, -78, 0, 0.1, "spring") - ramp_day(34, -78, 0, 0.1, "spring")
        assert spring == pytest.approx(16, abs=0.3)
        height = ramp_day(38, -78, 700, 0.1, "spring") - ramp_day(38, -78, 200, 0.1, "spring")
        assert 5 * 2.3 <= height <= 5 * 3.4

    def test_the_southern_hemisphere_is_half_a_year_on(self):
        north = leaf_frac(DAYS, 45.0, 10.0, 300.0)
        np.testing.assert_allclose(leaf_frac(DAYS + YEAR_D / 2, -45.0, 170.0, 300.0), north, atol=1e-12)

    def test_midsummer_and_midwinter_in_both_hemispheres(self):
        for latitude_deg, longitude_deg in [(48, 2), (60, 25), (42, -72), (35, 135), (-43, 147), (-41, -72)]:
            july, january = leaf_frac([196.0, 15.0], latitude_deg, longitude_deg, 100.0)
            summer, winter = (july, january) if latitude_deg > 0 else (january, july)
            assert summer > 0.98
            assert winter < 0.02

    def test_new_year_is_no_step(self):
        around = leaf_frac([365.9, 366.0, 1.0, 1.1], -33.0, 150.0, 0.0)
        assert np.ptp(around) < 1e-3

    def test_leaves_stay_on_in_the_tropics(self):
        for latitude_deg in (-TROPIC_DEG, -10.0, 0.0, 19.0, TROPIC_DEG):
            np.testing.assert_array_equal(leaf_frac(DAYS, latitude_deg, 100.0, 200.0), 1.0)

    def test_a_ramp_takes_two_to_three_weeks(self):
        # 19 days at Sambe (Ozaki & Terada 2000), 22 from emergence to 75 % size at Harvard Forest (HF003).
        ramp_d = ramp_day(48, 2, 0, 0.9, "spring") - ramp_day(48, 2, 0, 0.1, "spring")
        assert 18 <= ramp_d <= 23

    def test_higher_woods_have_shorter_summers(self):
        days_in_leaf = leaf_frac(DAYS, 46.0, 8.0, np.array([[0.0], [800.0], [1600.0], [5000.0]])).sum(axis=1)
        assert np.all(np.diff(days_in_leaf) < 0)
        assert days_in_leaf[-1] >= 0

    def test_unknown_stays_unknown(self):
        leaf = leaf_frac(np.nan, [0.0, 50.0, np.nan], 10.0, [0.0, 0.0, 0.0])
        assert np.all(np.isnan(leaf))
        assert np.isnan(leaf_frac(100.0, 50.0, 10.0, np.nan))


class TestDayOfYear:
    @pytest.mark.parametrize(
        "moment",
        [
            datetime(2026, 1, 1, tzinfo=UTC),
            datetime(2024, 12, 31, 23, 59, 59, tzinfo=UTC),
            datetime(2024, 3, 1, 6, tzinfo=UTC),
            datetime(1969, 7, 20, 20, 17, tzinfo=UTC),
        ],
    )
    def test_as_the_calendar_has_it(self, moment):
        start = datetime(moment.year, 1, 1, tzinfo=UTC)
        assert day_of_year(moment.timestamp()) == pytest.approx((moment - start) / timedelta(days=1) + 1)

    def test_any_shape_and_unknown(self):
        days = day_of_year(np.array([[0.0, 86_400.0], [-0.5, np.nan]]))
        np.testing.assert_allclose(days, [[1.0, 2.0], [365 + 1 - 0.5 / 86_400, np.nan]])


class TestCrownTransmittance:
    # Brown & Gillespie 1990, Table 2: share of global radiation behind single crowns, summer and winter.
    SUMMER = (0.08, 0.09, 0.10, 0.11, 0.20, 0.23, 0.13, 0.31, 0.38)
    WINTER = (0.73, 0.72, 0.75, 0.46, 0.52, 0.66)
    # Konarska et al. 2014: direct beam (from memory). Heisler 1985, 1986: bare trees take
    # 30 to 40 %.
    SUMMER_BEAM, WINTER_BEAM = (0.013, 0.053), (0.402, 0.519)

    def test_in_leaf(self):
        tau = crown_transmittance_frac(1.0, 0.0)
        assert max(self.SUMMER_BEAM) < tau < np.mean(self.SUMMER)  # between beam alone and beam with sky

    def test_bare(self):
        tau = crown_transmittance_frac(0.0, 0.0)
        assert min(self.WINTER) < tau < max(self.WINTER)
        assert np.mean(self.WINTER_BEAM) < tau < np.mean(self.WINTER)
        assert 1 - 0.40 <= tau <= 1 - 0.30  # Heisler 1985 and 1986

    def test_evergreens_do_not_know_the_season(self):
        summer, winter = crown_transmittance_frac([1.0, 0.0], 1.0)
        assert summer == winter
        assert 0.05 <= summer <= 0.10  # Konarska et al. 2014: a pine .051 of the beam

    def test_half_the_leaves_by_beers_law(self):
        # Beer: bare wood passes .6, full leaf .1 = .6 exp(-k); half the leaf area .6 exp(-k/2).
        assert crown_transmittance_frac(0.5, 0.0) == pytest.approx(0.6 * np.exp(-np.log(6) / 2))

    def test_a_mixed_stand_passes_what_its_crowns_pass_one_by_one(self):
        # Crowns of two kinds placed at random: numbers on a ray are Poisson; the beam left is summed over both.
        overlap, evergreen = 1.7, 0.35
        counts = np.arange(60)
        bare = np.sum(poisson.pmf(counts, overlap * (1 - evergreen)) * 0.6**counts)
        green = np.sum(poisson.pmf(counts, overlap * evergreen) * 0.08**counts)
        mixed = np.exp(-overlap * (1 - crown_transmittance_frac(0.0, evergreen)))
        assert mixed == pytest.approx(bare * green, rel=1e-12)

    def test_shapes_broadcast_and_unknown_stays_unknown(self):
        tau = crown_transmittance_frac(np.array([[0.0], [1.0]]), np.array([0.0, 1.0, np.nan]))
        np.testing.assert_allclose(tau, [[0.6, 0.08, np.nan], [0.1, 0.08, np.nan]])
