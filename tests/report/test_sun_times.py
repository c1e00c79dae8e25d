"""Dark spans on axes of time: against the decisions' own sunrise and a closed form."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from sample_harvest import winding_segments

from routesolar.physics.daylight import sunrise_utc_s, sunset_utc_s
from routesolar.report.sun_times import dark_at, dark_on, sun_words


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
