"""What is said of the sky, resolved onto a drive."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from routesolar.errors import UsageError
from routesolar.model.sky import named_sky, sky_states
from routesolar.physics.clouds import SCENARIOS, okta_sun_out_prob
from routesolar.trip.clock import local_clock_s
from routesolar.trip.segments import Leg, Segments
from routesolar.trip.sky import Sky, SkySpan

NOON_UTC_S = 1_718_884_800.0  # 2024-06-20 12:00 UTC


def hourly_drive(hours=6, departures=(0.0,), zone="UTC", elevation_m=0.0):
    """Stand still for some hours from 2024-06-20 12:00 UTC, an hour a segment."""
    start = NOON_UTC_S + np.array(departures)[:, None] + 3600.0 * np.arange(hours)
    geometry = dict.fromkeys(
        "latitude_deg longitude_deg middle_latitude_deg middle_longitude_deg end_latitude_deg "
        "end_longitude_deg heading_deg grade_frac speed_mps length_m along_m".split(),
        0.0,
    )
    heights = dict.fromkeys(["elevation_m", "middle_elevation_m"], elevation_m)
    # latitude_deg carries the count of segments
    return Segments(
        **{**geometry, "latitude_deg": np.zeros(hours)},
        **heights,
        leg=0,
        stopped=True,
        roofed=False,
        driven_on=True,
        start_utc_s=start,
        duration_s=3600.0,
        departure_utc_s=NOON_UTC_S + np.array(departures),
        legs=(Leg(name="stand", kind="stop"),),
        time_zone=zone,
    )


def test_a_named_sky_is_its_scenario():
    states = sky_states(Sky(name="thin"), hourly_drive(), np.zeros((1, 6)))
    assert states.unobscured_beam_index == SCENARIOS["thin"].unobscured_beam_index == 0.6
    assert states.sun_out_prob == 0.75


def test_okta_names_a_sky_too():
    assert named_sky("okta 6").sun_out_prob == okta_sun_out_prob(6)
    assert named_sky("okta 6.5").sun_out_prob == okta_sun_out_prob(6.5)


@pytest.mark.parametrize("name", ["sunny", "okta", "okta 9", "okta -1", "okta nan", "okta five", "8", ""])
def test_an_unknown_sky_is_refused_with_the_known_ones(name):
    with pytest.raises(UsageError, match="clear, thin, fair, broken, overcast, rain, or okta 0 to 8"):
        named_sky(name)


def test_spans_change_the_sky_between_two_local_clock_times():
    # 12:00 UTC is 14:00 in Paris in June; segment middles are 14:30, 15:30, ...
    sky = Sky(name="clear", spans=(SkySpan(from_clock_s=16 * 3600, to_clock_s=18 * 3600, name="overcast"),))
    states = sky_states(sky, hourly_drive(zone="Europe/Paris"), np.zeros((1, 6)))
    assert_allclose(states.sun_out_prob, [[0.97, 0.97, 0.03, 0.03, 0.97, 0.97]])


def test_a_span_may_run_past_midnight_and_a_later_span_wins():
    spans = (
        SkySpan(from_clock_s=15 * 3600, to_clock_s=14 * 3600, name="rain"),
        SkySpan(from_clock_s=17 * 3600, to_clock_s=18 * 3600, name="fair"),
    )
    states = sky_states(
        Sky(name="clear", spans=spans), hourly_drive(departures=(0.0, 3600.0)), np.zeros((2, 6))
    )
    rain, fair, clear = (SCENARIOS[name].obscured_index for name in ("rain", "fair", "clear"))
    # From 12:30 and from 13:30 UTC: clear until 14:00 only where a span does not hold.
    expected = [[rain, rain, clear, rain, rain, fair], [rain, clear, rain, rain, fair, rain]]
    assert_allclose(states.obscured_index, expected)


def test_the_local_clock_follows_the_change_to_winter_time():
    # Europe/Paris, 2024-10-27: 03:00 summer time becomes 02:00 at 01:00 UTC (published EU rule).
    change_utc_s = 1_729_990_800.0
    clock = local_clock_s(change_utc_s + np.array([-1.0, 0.0, 3600.0]), "Europe/Paris")
    assert_allclose(clock, [3 * 3600 - 1, 2 * 3600, 3 * 3600])


def test_air_cools_with_height_unless_given_at_the_vehicle():
    # ISO 2533: 6.5 C a km.
    low, high = (hourly_drive(elevation_m=height_m) for height_m in (0.0, 2000.0))
    usual = Sky(name="clear")
    difference_c = (sky_states(usual, drive, np.zeros((1, 6))).air_c for drive in (low, high))
    assert_allclose(np.subtract(*difference_c), 13.0)
    given = Sky(name="clear", air_c=21.0)
    assert_allclose(sky_states(given, high, np.zeros((1, 6))).air_c, 21.0)
