"""A trip asked again and again is answered as if it were asked for the first time."""

import numpy as np
import pytest
from terminal import ROOT

import routesolar as rs
from routesolar.trips import again as asked_again
from routesolar.trips.again import Again
from routesolar.trips.harvesting import harvest_trip

COAST = ROOT / "demo_routes" / "coast.gpx"
SAID = {"panel": "200W", "depart": "2026-04-20 08:00", "speed": "70km/h", "step": "800m", "sky": "broken"}
CHANGES = [
    {"depart": "2026-04-20 15:30"},
    {"canopy_cover": "60"},
    {"depart": "2026-11-02 06:40"},  # other leaves
    {"panel": "300W"},
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
        assert again.harvest_at_once(trip).totals.energy_wh == anew.totals.energy_wh


def test_another_departure_lays_out_no_line_and_looks_at_no_tree_again(monkeypatch):
    again, trip = Again(), rs.Trip.from_gpx(COAST, **SAID, canopy_cover="60")
    again.harvest(trip)
    for step in ("drive", "roadside_of", "hills_along", "vista_along"):
        monkeypatch.setattr(asked_again, step, lambda *args, **words: pytest.fail("computed again"))
    later = trip.with_(depart="2026-04-20 10:00")
    assert again.harvest(later).segments.departure_utc_s == trip.drive().departure_utc_s + 7200
