"""A whole day parked under an open sky: `harvest` and the level panel's bands tell of the same sky."""

from pathlib import Path

import numpy as np
import pytest
from routes import gpx, saved
from terminal import run

from routesolar.physics.clouds import energy_share_bands, okta_sun_out_prob, sun_out_states
from routesolar.physics.day_course import daylight_min

DAYS = [(46.8, 6.9, "2026-06-21 00:00"), (36.6, -116.0, "2026-03-20 00:00"), (40.7, -77.9, "2026-12-10 00:00")]


@pytest.mark.parametrize("place", DAYS, ids=["June, 47 N", "March, 37 N", "December, 41 N"])
@pytest.mark.parametrize("okta", [1, 5, 7.5])
@pytest.mark.parametrize("forecast", ["known", "tomorrow"])
def test_a_day_parked_has_the_level_panels_mean_and_bands(
    tmp_path: Path, place: tuple[float, float, str], okta: float, forecast: str
) -> None:
    latitude, longitude, midnight = place
    points = "".join(
        f'<rtept lat="{latitude + north}" lon="{longitude}"><ele>0</ele></rtept>' for north in (0, 1e-4)
    )
    route = saved(tmp_path, gpx(f"<rte>{points}</rte>"))
    asked = ("--panel", "200W", "--speed", "50km/h", "--stop", "0km:23h", "--depart", midnight)
    said = run("harvest", route, *asked, "--cloud-okta", str(okta), "--forecast", forecast, "--json").json[
        "totals"
    ]
    share = okta_sun_out_prob(okta)
    minutes = daylight_min(latitude, np.datetime64(midnight[:10], "s").astype(float))
    level = energy_share_bands(share, minutes, forecast)
    states = sun_out_states(share)
    mean = states.sun_out_prob * states.out_share + (1 - states.sun_out_prob) * states.hidden_share
    came = 1 - said["losses"]["clouds"] / said["rated_clear_wh"]
    assert came == pytest.approx(mean, rel=0.01)
    # A low sun's beam is reflected more than the sky's light is, which draws the two states together.
    within = 0.015 if latitude > 40 and midnight[5:7] == "12" else 0.01
    for name, expected in zip(("low", "mid", "high"), level, strict=True):
        ours = said[f"energy_{name}_wh"] / said["energy_wh"]
        assert ours == pytest.approx(expected / mean, abs=within), name
