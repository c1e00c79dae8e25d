"""A trip asked again and again is answered as if it were asked for the first time."""

import numpy as np
import pytest
from terminal import ROOT

import routesolar as rs
from routesolar.trips import again as asked_again
from routesolar.trips.again import Again
from routesolar.trips.harvesting import harvest_trip

COAST = ROOT / "demo_routes" / "coast.gpx"
FOREST = ROOT / "demo_routes" / "forest.gpx"
SAID = {"panel": "200W", "depart": "2026-04-20 08:00", "speed": "70km/h", "step": "800m", "sky": "broken"}
CHANGES = [
    {"depart": "2026-04-20 15:30"},
    {"canopy_cover": "60"},
    {"depart": "2026-11-02 06:40"},  # other leaves
    {"panel": "300W"},
    {"road_width": "9m"},
    {"canopy_height": "22m"},
    {"stop": ["9km:40min"]},
    {"until": "18:00"},  # from here on the drive waits for a clock
    {"terrain": str(ROOT / "demo_routes" / "terrain.tif")},
    {"depart": "2026-11-02 13:10"},
]


def test_each_change_gives_what_a_new_computation_gives_to_the_last_digit():
    again, trip = Again(), rs.Trip.from_gpx(COAST, **SAID)
    for change in CHANGES:
        trip = trip.with_(**change)
        got, anew = again.harvest(trip), harvest_trip(trip)
        assert got.totals == anew.totals, change
        assert got.legs == anew.legs
        assert (got.notes, got.warnings) == (anew.notes, anew.warnings)
        np.testing.assert_array_equal(got.power_w, anew.power_w)
        np.testing.assert_array_equal(got.segments.start_utc_s, anew.segments.start_utc_s)
        at_once = again.harvest_at_once(trip)
        assert (at_once.harvest.totals.energy_wh, at_once.is_near) == (anew.totals.energy_wh, False)


def test_rasters_are_read_once_for_every_width_and_height_that_is_said(monkeypatch):
    files = {"canopy": str(FOREST.with_name("cover.tif")), "step": "800m", "speed": "60km/h"}
    again, trip = Again(), rs.Trip.from_gpx(FOREST, **SAID | files)
    again.harvest(trip)
    monkeypatch.setattr(asked_again, "canopy_read", lambda *args: pytest.fail("read again"))
    for change in (
        {"road_width": "8m"},
        {"canopy_height": "24m"},
        {"road_width": "fit"},
        {"road_width": "15m"},
    ):
        trip = trip.with_(**change)
        got, anew = again.harvest(trip), harvest_trip(trip)
        assert (got.totals, got.legs, got.warnings) == (anew.totals, anew.legs, anew.warnings), change
        np.testing.assert_array_equal(got.power_w, anew.power_w)


def test_another_departure_lays_out_no_line_and_looks_at_no_tree_again(monkeypatch):
    again, trip = Again(), rs.Trip.from_gpx(COAST, **SAID, canopy_cover="60")
    again.harvest(trip)
    for step in ("drive", "roadside_of", "hills_along", "vista_along"):
        monkeypatch.setattr(asked_again, step, lambda *args, **words: pytest.fail("computed again"))
    later = trip.with_(depart="2026-04-20 10:00")
    assert again.harvest(later).segments.departure_utc_s == trip.drive().departure_utc_s + 7200
