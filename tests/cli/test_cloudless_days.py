"""What `harvest --sky clear` says of a day parked, beside cloudless days as they were measured."""

from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd
import pytest
from measured_days import ALAMOSA, PAYERNE, TUCSON, alamosa_day, payerne_june, tucson_day
from routes import gpx, saved
from terminal import run

pytestmark = pytest.mark.download

PANEL_KW = 0.2


class Parked(NamedTuple):
    """A day's global irradiation over that of the clear sky: as measured, as expected, P10 and P90."""

    came: float
    expected: float
    low: float
    high: float

    @property
    def error(self) -> float:
        """By which share of what came too much is expected."""
        return self.expected / self.came - 1


def parked(folder: Path, place: tuple[float, float, float], midnight: str, minutes: pd.DataFrame) -> Parked:
    """Ask for a day at one place, from its local midnight."""
    latitude, longitude, height = place
    points = "".join(
        f'<rtept lat="{latitude + north}" lon="{longitude}"><ele>{height}</ele></rtept>' for north in (0, 1e-4)
    )
    route = saved(folder, gpx(f"<rte>{points}</rte>"))
    asked = (
        "--panel",
        "200W",
        "--speed",
        "50km/h",
        "--stop",
        "0km:23h",
        "--sky",
        "clear",
        "--depart",
        midnight,
    )
    said = run("harvest", route, *asked, "--json").json
    clear_wh, total = said["totals"]["rated_clear_wh"], said["totals"]
    came_wh = float(np.nansum(np.maximum(minutes.ghi, 0))) / 60 * PANEL_KW
    over_clear = (total[f"energy_{name}_wh"] / total["clear_sky_wh"] for name in ("low", "high"))
    return Parked(came_wh / clear_wh, 1 - total["losses"]["clouds"] / clear_wh, *over_clear)


@pytest.fixture(scope="module")
def days(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Parked]:
    june, folder = payerne_june(), tmp_path_factory.mktemp("parked")
    return {
        "Payerne 23": parked(folder, PAYERNE, "2016-06-23 00:00", june[june.index.day == 23]),
        "Payerne 27": parked(folder, PAYERNE, "2016-06-27 00:00", june[june.index.day == 27]),
        "Alamosa": parked(folder, ALAMOSA, "2016-01-01 00:00", alamosa_day()),
        "Tucson": parked(folder, TUCSON, "2018-10-18 00:00", tucson_day()),
    }


def test_cloudless_days_bring_what_a_clear_sky_promises(days: dict[str, Parked]) -> None:
    # Found: 1.3, 1.9, 2.8 and 0.3 % too dim; with three quarters of the climatology's turbidity, hazy place or
    # clean, 2.7, 3.4, 3.9 and 0.5. Over a year three stations had 0.7 % too dim to 1.7 % too bright
    # (benchmarks/clear_sky.py).
    errors = np.array([day.error for day in days.values()])
    assert np.all(np.abs(errors) < 0.03)
    assert np.sqrt(np.mean(errors**2)) < 0.02


def test_cloudless_days_lie_within_the_interval_of_a_clear_sky(days: dict[str, Parked]) -> None:
    for name, day in days.items():
        assert day.low < day.came < day.high, name
