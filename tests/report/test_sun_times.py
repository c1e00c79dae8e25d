"""Dark spans on axes of time: against the decisions' own sunrise and a closed form."""

import re
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from sample_harvest import winding_segments

from routesolar.physics.daylight import sunrise_utc_s, sunset_utc_s
from routesolar.report.sun_times import dark_at, dark_on, daylight_words, sun_words


def test_nights_of_a_long_trip_lie_between_sunset_and_sunrise_where_the_vehicle_is():
    segments = winding_segments(600, lasts_h=52.0)
    dark = dark_on(segments)
    assert len(dark) == 2
    for span in dark:
        for utc_s, rule in ((span.from_utc_s, sunset_utc_s), (span.to_utc_s, sunrise_utc_s)):
            row = int(np.searchsorted(segments.start_utc_s[0], utc_s)) - 1
            place = [
                float(values[row])
                for values in (
                    segments.middle_latitude_deg,
                    segments.middle_longitude_deg,
                    segments.middle_elevation_m,
                )
            ]
            assert utc_s == pytest.approx(float(rule(*place, np.array([utc_s]))[0]), abs=20)


def test_a_day_at_the_equator_on_the_equinox_has_its_sun_for_twelve_hours_and_some_minutes():
    # The upper limb and refraction lengthen the day by 2 x 0.833 / 15 h = 6.7 minutes (closed form).
    segments = winding_segments(60)
    flat = {name: 0 * getattr(segments, name) for name in ("latitude_deg", "longitude_deg", "elevation_m")}
    noon_s = datetime(2026, 3, 20, 12, tzinfo=UTC).timestamp()
    first, second = dark_at(replace(segments, **flat), noon_s - 43_200, noon_s + 43_200)
    assert second.from_utc_s - first.to_utc_s == pytest.approx(12 * 3600 + 6.7 * 60, abs=40)


def test_the_sun_is_told_in_words_with_days_where_there_are_several():
    assert sun_words(winding_segments(600)).startswith("The sun sets at 20:")
    several = sun_words(winding_segments(600, lasts_h=52.0))
    assert several.startswith("The sun sets at Fri 20:")
    assert "rises at Sun 05:" in several


def test_sunrise_and_sunset_are_told_of_the_day_of_leaving():
    # Hobart, 20 Nov 2026: sunrise 05:35, sunset 20:22 (UTC+11), from memory of almanacs, good to five minutes.
    said = daylight_words(winding_segments(60))
    times = re.findall(r"(rises|sets) at (\d\d):(\d\d)", said)
    assert [verb for verb, *_ in times] == ["rises", "sets"]
    minutes = [60 * int(hour) + int(minute) for _, hour, minute in times]
    assert minutes == pytest.approx([5 * 60 + 35, 20 * 60 + 22], abs=6)


def test_of_many_days_the_shortest_and_the_longest_are_told():
    one = winding_segments(60)
    leaves = one.departure_utc_s + 30 * 86_400.0 * np.arange(12)[:, None].ravel()
    year = replace(
        one,
        departure_utc_s=leaves,
        start_utc_s=one.start_utc_s + (leaves - leaves[0])[:, None],
        duration_s=np.repeat(one.duration_s, 12, axis=0),
    )
    said = daylight_words(year)
    assert said.count("rises at") == 2
    assert re.search(r"On \w+ 20 Dec|On \w+ 18 Jun", said)


def test_a_polar_day_and_a_polar_night_have_no_sunrise():
    def at(utc_s):
        north = replace(winding_segments(60, depart_utc_s=utc_s), latitude_deg=np.full(60, 78.0))
        return daylight_words(north)

    assert "stays up all day" in at(datetime(2026, 6, 20, 1, tzinfo=UTC).timestamp())
    assert "stays down all day" in at(datetime(2026, 12, 20, 1, tzinfo=UTC).timestamp())
