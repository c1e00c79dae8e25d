"""A stop among trees of its own is shaded as a camp there among these, and changes nothing on the road."""

from functools import cache
from typing import Any

import numpy as np
import pytest
from routes import straight

import routesolar as rs
from routesolar.trips.harvesting import harvest_trip

SAID: dict[str, Any] = {"panel": "200W", "sky": "broken", "step": "200m", "season": "leaf-on"}
ROAD = {"canopy_cover": "70", "canopy_height": "20m", "road_width": "9m"}
AT_M, HALF_HOUR_S = 8_000.0, 1800.0
OWN = {"canopy_cover_frac": 0.4, "canopy_height_m": 12.0, "road_width_m": 50.0}


@cache
def driven(own: bool) -> rs.Harvest:
    road = rs.route_from_arrays(*straight(np.array([0.0, 16_000.0])))
    stop = rs.Stop(at="8km", at_m=AT_M, duration_s=HALF_HOUR_S, heading_deg=0.0, **(OWN if own else {}))
    return harvest_trip(
        rs.Trip.along(road, speed="60km/h", depart="2026-11-20 11:00", stop=stop, **SAID, **ROAD)
    )


def test_the_stay_is_that_of_a_camp_with_the_same_trees() -> None:
    """Same place, time, heading and words: same shade. No road is seen from a clearing of its own width."""
    harvest = driven(True)
    segments, rows = harvest.segments, np.flatnonzero(harvest.segments.stopped)
    place = float(segments.latitude_deg[rows[0]]), float(segments.longitude_deg[rows[0]])
    start = float(segments.start_utc_s[0, rows[0]])
    camp = rs.Trip.at(
        *place,
        depart="2026-11-20 11:08",
        stop=rs.Stop(at="0km", at_m=0.0, duration_s=HALF_HOUR_S, heading_deg=0.0),
        canopy_cover="40",
        canopy_height="12m",
        road_width="50m",
        **SAID,
    )
    there = harvest_trip(camp)
    assert there.segments.start_utc_s[0, 0] == pytest.approx(start, abs=1e-3)
    for name in ("beam_transmittance_frac", "sky_view_frac"):
        assert getattr(harvest, name)[rows] == pytest.approx(getattr(there, name), abs=1e-6), name


def test_no_light_changes_on_the_road() -> None:
    """Cells that the stay has warmed are still warm for a while, so watts do change."""
    plain, own = driven(False), driven(True)
    moving = ~plain.segments.stopped
    for name in ("plane_wm2", "beam_transmittance_frac", "sky_view_frac"):
        assert np.array_equal(getattr(plain, name)[moving], getattr(own, name)[moving]), name
    assert own.stopped_wh > 1.5 * plain.stopped_wh


def test_cover_alone_keeps_the_roads_opening() -> None:
    """Trees of no cover at a stop are an open sky there, whatever stands along the road."""
    bare = rs.Stop(at="8km", at_m=AT_M, duration_s=HALF_HOUR_S, canopy_cover_frac=0.0)
    road = rs.route_from_arrays(*straight(np.array([0.0, 16_000.0])))
    trip = rs.Trip.along(road, speed="60km/h", depart="2026-11-20 11:00", stop=bare, **SAID, **ROAD)
    harvest = harvest_trip(trip)
    assert harvest.sky_view_frac[harvest.segments.stopped].min() == pytest.approx(1.0)


def test_parking_at_the_stop_is_among_its_own_trees() -> None:
    road = rs.route_from_arrays(*straight(np.array([0.0, 16_000.0])))
    found = []
    for own in ({}, OWN):
        stop = rs.Stop(at="8km", at_m=AT_M, duration_s=HALF_HOUR_S, **own)  # type: ignore[arg-type]
        trip = rs.Trip.along(road, speed="60km/h", depart="2026-11-20 11:00", stop=stop, **SAID, **ROAD)
        found.append(rs.park(trip, "stop at 8 km", within="5m").spots[0].energy_wh)
    assert found[1] > 1.5 * found[0]
