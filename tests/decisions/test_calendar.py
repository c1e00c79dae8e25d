"""A year of departures."""

import json

import numpy as np
import pytest
from drives import straight_drive

from routesolar.decisions.calendar import calendar_dict, calendar_grid, calendar_rows, year_calendar
from routesolar.decisions.starts import year_starts_utc_s
from routesolar.errors import UsageError
from routesolar.model.sweeping import sweep
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

HOUR_S = 3600.0


def calendar(latitude_deg: float = 50.0, first_h: int = 0, last_h: int = 23, zone: str = "Europe/Berlin"):
    from dataclasses import replace

    starts = year_starts_utc_s(2026, first_h * HOUR_S, last_h * HOUR_S, HOUR_S, zone)
    segments = replace(
        straight_drive(latitude_deg, 10.0, list(starts), segments=30, step_s=120.0), time_zone=zone
    )
    rig = Rig(panels=(Panel(rated_w=200.0),))
    result = sweep(segments, rig, Canopy.open(30), Terrain.flat(30), [Sky(name="clear")])
    return year_calendar(result)


def test_a_year_has_a_row_for_every_month_and_hour_on_the_local_clock():
    rows = calendar_rows(calendar())
    assert len(rows) == 12 * 24
    keys = "month depart energy_wh shade_loss_frac taken_wh soc_end_frac lowest_soc_frac shortfall_wh"
    assert list(rows[0]) == keys.split()
    assert rows[8] == rows[8] | {"month": 1, "depart": "2026-01-15T08:00:00+01:00"}
    assert rows[6 * 24 + 8]["depart"] == "2026-07-15T08:00:00+02:00"
    assert rows[0]["energy_wh"] == 0.0 and rows[0]["shade_loss_frac"] is None


@pytest.mark.parametrize(("latitude_deg", "summer", "winter"), [(50.0, 6, 12), (-35.0, 12, 6)])
def test_summer_noon_is_best_and_winter_worst(latitude_deg, summer, winter):
    result = calendar(latitude_deg)
    clock_s, grid = calendar_grid(result, result.energy_wh)
    assert clock_s.tolist() == [hour * HOUR_S for hour in range(24)]
    by_month = grid.max(axis=1)
    assert abs((int(by_month.argmax()) + 1 - summer + 6) % 12 - 6) <= 1
    assert int(by_month.argmin()) + 1 == winter
    assert result.energy_wh[result.best] == np.nanmax(grid)


def test_the_best_hour_moves_with_the_clock_in_summer():
    result = calendar()
    _, grid = calendar_grid(result, result.energy_wh)
    assert grid[6].argmax() - grid[0].argmax() == 1  # noon by the sun is an hour later by the summer clock


def test_written_as_json():
    assert (
        json.loads(json.dumps(calendar_dict(calendar()), allow_nan=False))["schema"] == "routesolar.calendar/1"
    )


def test_a_year_of_nights_is_refused():
    with pytest.raises(UsageError, match="no departure of the year sees the sun"):
        calendar(35.0, 0, 2)
