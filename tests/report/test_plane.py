"""Laying the route flat: against pyproj's Web Mercator and WGS 84, and round axes."""

from datetime import datetime

import numpy as np
import pytest
from pyproj import Geod, Transformer
from sample_harvest import canopy_picture, winding_harvest, winding_segments

from routesolar.report.plane import latitude, leg_middles, lines, mercator, picture_bounds, scale_bar
from routesolar.report.ticks import clock_ticks, degree_ticks
from routesolar.report.units import IMPERIAL

WEB_MERCATOR = Transformer.from_crs(4326, 3857, always_xy=True)
METRES_PER_X = WEB_MERCATOR.transform(1, 0)[0]


@pytest.mark.parametrize("latitude_deg", [-80.0, -42.0, 0.0, 12.5, 66.0, 85.0])
def test_mercator_agrees_with_proj(latitude_deg):
    # A nanometre of a degree: both are the same closed form.
    y = float(mercator(np.array(latitude_deg)))
    assert y == pytest.approx(WEB_MERCATOR.transform(0, latitude_deg)[1] / METRES_PER_X, abs=1e-9)
    assert latitude(y) == pytest.approx(latitude_deg, abs=1e-9)


@pytest.mark.parametrize("west_deg", [147.0, 178.6, 179.0, -1.0])
def test_a_route_is_one_line_wherever_it_lies(west_deg):
    ends = lines(winding_segments(300, west_deg=west_deg)).ends
    assert np.abs(ends[1:, 0] - ends[:-1, 1]).max() < 1e-9
    assert np.ptp(ends[..., 0]) < 5


def test_a_canopy_picture_lies_beneath_a_route_across_the_antimeridian():
    plane = lines(winding_segments(300, west_deg=178.6))
    picture = canopy_picture(178.6 - 360)
    west, _, east, _ = picture_bounds(picture, float(plane.middles[:, 0].mean()))
    assert west < plane.ends[..., 0].min()
    assert east > plane.ends[..., 0].max()


def test_numbers_stand_halfway_along_their_leg():
    harvest = winding_harvest(500)
    segments = harvest.segments
    for leg, middle in enumerate(leg_middles(harvest.segments)):
        rows = segments.leg == leg
        assert rows[middle]
        driven_m = segments.length_m[rows].sum()
        before_m = segments.along_m[middle] - segments.along_m[rows][0]
        # A leg has 100 segments of about 2 km at most.
        assert before_m == pytest.approx(driven_m / 2, abs=2500)


@pytest.mark.parametrize(("units", "metres"), [(None, 1000.0), (IMPERIAL, 1609.344)])
def test_a_scale_bar_is_as_long_as_it_says(units, metres):
    bounds = (147.0, float(mercator(np.array(-42.5))), 150.0, float(mercator(np.array(-41.5))))
    length, label = scale_bar(bounds) if units is None else scale_bar(bounds, units)
    shown, _ = label.split()
    # The middle of the map in y lies near 42 S; a sphere for an ellipsoid is worth 0.4 % here.
    _, _, true_m = Geod(ellps="WGS84").inv(147, -42, 147 + length, -42)
    assert true_m == pytest.approx(float(shown) * metres, rel=5e-3)


def test_clock_ticks_stand_on_round_local_times():
    # 07:30 to 21:30 in Kathmandu, UTC+05:45: round there, not in UTC.
    first_s = 1795139100.0
    ticks = clock_ticks(first_s, first_s + 14 * 3600, "Asia/Kathmandu")
    assert [label for _, label in ticks] == ["08:00", "10:00", "12:00", "14:00", "16:00", "18:00", "20:00"]


def test_midnight_is_labelled_with_its_date():
    labels = [label for _, label in clock_ticks(1795120200.0, 1795120200.0 + 40 * 3600, "Australia/Hobart")]
    assert "Sat 21 Nov" in labels
    assert "00:00" not in labels


@pytest.mark.parametrize(
    ("start", "change"), [("2027-04-02T09:00:00+11:00", "4 Apr"), ("2026-10-02T09:00:00+10:00", "4 Oct")]
)
def test_midnights_after_a_change_of_the_clock_keep_their_dates(start, change):
    # Tasmania's clocks change at 02:00 or 03:00 on the 4th, either way.
    first_s = datetime.fromisoformat(start).timestamp()
    labels = [label for _, label in clock_ticks(first_s, first_s + 84 * 3600, "Australia/Hobart")]
    month = change.split()[1]
    dated = [f"{day} {month}" for day in ("Sat 3", "Sun 4", "Mon 5")]  # a weekend in either year
    assert [label for label in labels if month in label] == dated
    assert set(labels) - set(dated) == {"12:00"}


@pytest.mark.parametrize("span_s", [60, 1800, 7200, 86400, 6 * 86400, 60 * 86400])
def test_clock_ticks_are_few_and_within_the_span(span_s):
    ticks = [tick for tick, _ in clock_ticks(1795120260.0, 1795120260.0 + span_s, "UTC")]
    assert len(ticks) <= 9
    assert all(1795120260.0 <= tick <= 1795120260.0 + span_s for tick in ticks)


def test_degrees_carry_their_half_of_the_world():
    assert degree_ticks(-42.1, -40.9, "NS")[0][1] == "42.00° S"  # steps of 0.25
    across = [label for _, label in degree_ticks(178.2, 181.9, "EW", most=4)]
    assert across == ["179° E", "180°", "179° W"]
    assert "0°" in [label for _, label in degree_ticks(-1.2, 1.2, "NS", most=3)]
    assert [label for _, label in degree_ticks(10.0, 10.1, "EW", most=4)] == [
        "10.000° E",
        "10.025° E",
        "10.050° E",
        "10.075° E",
        "10.100° E",
    ]
