import numpy as np
import pytest

from routesolar.physics.aiming import aimed_normals

MINUTES = np.arange(241.0)[None]
AZIMUTH, ELEVATION = 100.0 + MINUTES / 4, 10.0 + MINUTES / 8


def sun(azimuth: np.ndarray, elevation: np.ndarray) -> np.ndarray:
    az, el = np.radians(azimuth), np.radians(elevation)
    return np.stack([np.cos(el) * np.sin(az), np.cos(el) * np.cos(az), np.sin(el)], axis=-1)


def test_the_panel_is_square_to_the_sun_at_each_turn_and_waits_in_between() -> None:
    normals = aimed_normals(AZIMUTH, ELEVATION, MINUTES * 60, np.ones(241, bool), 3600.0)
    cosines = (normals * sun(AZIMUTH, ELEVATION)).sum(axis=-1)[0]
    assert cosines[::60] == pytest.approx(1.0, abs=1e-12)
    # An hour moves this sun 15 deg in azimuth and 7.5 in elevation, so it is worst before the next turn.
    assert cosines.argmin() in (59, 119, 179, 239)
    assert np.array_equal(normals[0, 1], normals[0, 59])


def test_more_turns_never_give_less_light() -> None:
    light = [
        (
            aimed_normals(AZIMUTH, ELEVATION, MINUTES * 60, np.ones(241, bool), every) * sun(AZIMUTH, ELEVATION)
        ).sum()
        for every in (60.0, 1200.0, 3600.0, 14400.0)
    ]
    assert light == sorted(light, reverse=True)


def test_driving_lays_it_flat_and_the_next_stop_turns_it_afresh() -> None:
    stopped = np.ones(241, bool)
    stopped[30:40] = False
    normals = aimed_normals(AZIMUTH, ELEVATION, MINUTES * 60, stopped, 3600.0)[0]
    assert np.array_equal(normals[35], [0.0, 0.0, 1.0])
    assert normals[40] == pytest.approx(sun(AZIMUTH, ELEVATION)[0, 40])


def test_it_waits_level_for_sunrise() -> None:
    low = ELEVATION - 15.0
    normals = aimed_normals(AZIMUTH, low, MINUTES * 60, np.ones(241, bool), 3600.0)[0]
    first = int(np.argmax(low[0] > 0))
    assert np.array_equal(normals[first - 1], [0.0, 0.0, 1.0])
    assert normals[first] == pytest.approx(sun(AZIMUTH, low)[0, first])
