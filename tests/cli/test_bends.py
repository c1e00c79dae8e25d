"""What a traveller is told of hairpins in a wood, at the usual step and from a noisy recorder."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from bends import hairpins_m, route_through
from routes import gpx, point, saved, track
from terminal import run

WOOD = ("--panel", "200W", "--sky", "clear", "--canopy-cover", "60", "--json")
START = datetime(2026, 6, 21, 8, 45, tzinfo=UTC)
EVERY_M = {20.0: 6, 100.0: 14}  # in a second on bends of these radii: 2 m/s2 to the side


def hairpins(folder: Path, radius_m: float, noise_m: float = 0.0) -> str:
    """Write 12 hairpins as recorded every second by a receiver of some noise; return the file's path."""
    points_m = hairpins_m(radius_m, turns=12)[:: EVERY_M[radius_m]]
    route = route_through(points_m + np.random.default_rng(4).normal(0, noise_m, points_m.shape))
    places = zip(route.latitude_deg, route.longitude_deg, strict=True)
    elements = [
        point(lat, lon, f"<time>{START + timedelta(seconds=k):%Y-%m-%dT%H:%M:%SZ}</time>")
        for k, (lat, lon) in enumerate(places)
    ]
    return str(saved(folder, gpx(track(*elements)), f"{noise_m:.0f}.gpx"))


@pytest.mark.parametrize("radius_m", [20.0, 100.0])
def test_half_the_step_changes_the_energy_told_by_less_than_half_a_percent(tmp_path, radius_m):
    path = hairpins(tmp_path, radius_m)
    usual, half = (run("harvest", path, *WOOD, *step).json["totals"] for step in ((), ("--step", "25m")))
    assert half["energy_wh"] == pytest.approx(usual["energy_wh"], rel=0.005)


@pytest.mark.parametrize("radius_m", [20.0, 100.0])
def test_a_recorder_that_is_8_m_off_at_every_point_tells_nearly_the_same(tmp_path, radius_m):
    # Its noise must neither fray the opening between the trees nor leave the vehicle under them.
    quiet, noisy = (
        run("harvest", hairpins(tmp_path, radius_m, noise_m), *WOOD).json["totals"] for noise_m in (0.0, 8.0)
    )
    assert noisy["energy_wh"] == pytest.approx(quiet["energy_wh"], rel=0.02)
