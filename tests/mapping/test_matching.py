"""The road under a route is found through a receiver's noise, beside other roads, on bridges and in tunnels."""

import numpy as np
import pytest

from routesolar.mapping.on_roads import laid_on_roads
from routesolar.mapping.road_kinds import road_of
from routesolar.physics.geodesy import distance_m
from routesolar.trip.map_tags import DRIVABLE
from routesolar.trip.mapped import MapFeature
from routesolar.trip.mapped_road import MappedRoad
from tests.map_worlds import EAST_M, NORTH_M, SOUTH, WEST, degrees, line, map_of
from tests.routes import route_of


def winding(length_m: float = 4000.0) -> tuple[np.ndarray, np.ndarray]:
    """Hairpins: a line that swings by 60 m every 300 m."""
    at = np.arange(0.0, length_m, 10.0)
    return at, 60.0 * np.sin(2 * np.pi * at / 300.0)


def road_length_m(east: np.ndarray, north: np.ndarray) -> float:
    return float(np.hypot(np.diff(east), np.diff(north)).sum())


def length_m(road: MappedRoad) -> float:
    lat, lon = road.latitude_deg, road.longitude_deg
    return float(distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]).sum())


def tracked(east: np.ndarray, north: np.ndarray, error_m: float, seed: int = 0, every_m: float = 15.0):
    """A track along a line, a point every so many metres, each off by as much as a receiver may be."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(east), np.diff(north)))])
    at = np.arange(0.0, along[-1], every_m)
    rng = np.random.default_rng(seed)
    places = [np.interp(at, along, values) + rng.normal(0, error_m, len(at)) for values in (east, north)]
    return route_of(*degrees(*places))


@pytest.mark.parametrize("error_m", [0.0, 4.0, 8.0, 10.0])
def test_hairpins_keep_their_length_through_noise(error_m: float) -> None:
    east, north = winding()
    land = map_of(line(east, north, 1, highway="secondary"))
    road = laid_on_roads(tracked(east, north, error_m), land)
    assert road.matched_frac == 1.0
    # The ends of a track are as uncertain as its points; its last point lies up to 15 m before the road's end.
    driven_m = road_length_m(east, north) // 15.0 * 15.0
    assert length_m(road) == pytest.approx(driven_m, abs=2 + 4.5 * error_m)
    off = np.abs(
        (road.latitude_deg - SOUTH) * NORTH_M - np.interp((road.longitude_deg - WEST) * EAST_M, east, north)
    )
    assert off.max() < 0.05


@pytest.mark.parametrize("seed", range(4))
def test_of_two_parallel_roads_the_one_driven_is_found(seed: int) -> None:
    east = np.arange(-200.0, 2201.0, 50.0)
    near, far = np.zeros_like(east), np.full_like(east, 30.0)
    land = map_of(line(east, near, 1, highway="primary"), line(east, far, 1000, highway="primary", lanes="4"))
    for north, opening in ((near, 2 * 3.6 + 6), (far, 4 * 3.6 + 6)):
        road = laid_on_roads(tracked(east[4:-4], north[4:-4], 10.0, seed), land)
        assert road.opening_m == pytest.approx([opening])


def test_a_road_above_or_below_is_not_taken() -> None:
    across = np.arange(-500.0, 501.0, 50.0)
    land = map_of(
        line(np.arange(0.0, 2001.0, 100.0), np.zeros(21), 1, highway="tertiary"),
        line(np.full(21, 1000.0), across, 1000, highway="motorway", bridge="yes"),
    )
    road = laid_on_roads(tracked(np.arange(0.0, 2001.0, 100.0), np.zeros(21), 8.0), land)
    assert set(road.road) == {"tertiary"}
    assert not road.bridge.any()


def test_a_tunnel_without_reception_is_driven_through() -> None:
    """Points end at one portal and begin at the other, 900 m on; the road between them bends."""
    way = np.linspace(0, np.pi, 60)
    inside = 1000 + 450 * (1 - np.cos(way)), 120 * np.sin(way)
    land = map_of(
        line([0, 500, 1000], [0, 0, 0], 1, highway="primary"),
        line(*inside, 3, highway="primary", tunnel="yes"),
        line([1900, 2500, 3000], [0, 0, 0], 62, highway="primary"),
    )
    at = np.concatenate([np.arange(0.0, 1000.0, 20.0), np.arange(1905.0, 3000.0, 20.0)])
    road = laid_on_roads(route_of(*degrees(at, np.random.default_rng(1).normal(0, 5, len(at)))), land)
    assert road.tunnel.tolist() == [False, True, False]
    first, after = road.first_point[1], road.first_point[2]
    lat, lon = road.latitude_deg[first : after + 1], road.longitude_deg[first : after + 1]
    dark_m = float(distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]).sum())
    assert dark_m == pytest.approx(road_length_m(*inside), abs=1.0)


def test_where_no_road_is_drawn_the_line_stays_as_it_was_and_is_counted() -> None:
    at = np.arange(0.0, 3000.0, 20.0)
    land = map_of(
        line([0, 500, 1000], [0, 0, 0], 1, highway="primary"), line([2000, 3100], [0, 0], 10, highway="track")
    )
    road = laid_on_roads(route_of(*degrees(at, at * 0)), land)
    assert road.road == ("primary", "", "track")
    assert road.matched_frac == pytest.approx(2 / 3, abs=0.03)
    assert np.isnan(road.opening_m[1])
    assert not road.tunnel[1]


def test_times_and_heights_stay_with_their_points() -> None:
    east, north = winding(1000.0)
    track = tracked(east, north, 6.0)
    count = len(track.latitude_deg)
    track = route_of(
        track.latitude_deg,
        track.longitude_deg,
        elevation_m=np.arange(count) * 1.0,
        time_utc_s=1e9 + np.arange(count),
    )
    road = laid_on_roads(track, map_of(line(east, north, 1, highway="secondary")))
    assert set(track.time_utc_s) <= set(road.time_utc_s)
    assert np.all(np.diff(road.time_utc_s) >= 0)
    own = np.isin(road.time_utc_s, track.time_utc_s)
    assert road.elevation_m[own].tolist() == track.elevation_m.tolist()


def test_a_ferry_is_boarded_where_its_line_is_followed() -> None:
    at = np.arange(0.0, 4000.0, 100.0)
    land = map_of(
        line([0, 1000], [0, 0], 1, highway="primary"),
        MapFeature("line", {"route": "ferry"}, line([1000, 2000, 3000], [0, 150, 0], 2).rings),
        line([3000, 4100], [0, 0], 4, highway="primary"),
    )
    road = laid_on_roads(route_of(*degrees(at, at * 0)), land)
    assert road.road == ("primary", "ferry", "primary")
    assert road.roofed.tolist() == [False, True, False]


def test_a_dead_end_is_driven_in_and_out() -> None:
    out = np.arange(0.0, 600.0, 15.0)
    at = np.concatenate([out, out[::-1]])
    land = map_of(line([0, 200, 400, 600], [0, 0, 0, 0], 1, highway="residential"))
    for seed in range(3):
        noise = np.random.default_rng(seed).normal(0, 6, len(at))
        road = laid_on_roads(route_of(*degrees(at + noise, noise[::-1])), land)
        assert length_m(road) == pytest.approx(2 * 585, abs=40)


def test_the_width_of_a_road_comes_from_its_width_else_its_lanes_else_its_kind() -> None:
    from collections import Counter

    faults: Counter[str] = Counter()
    said = [
        road_of({"highway": "tertiary", **tags}, faults)
        for tags in (
            {"width": "5.5 m", "lanes": "1"},
            {"lanes": "3"},
            {},
            {"width": "18'"},
            {"width": "narrow"},
        )
    ]
    assert [road.carriageway_m for road in said] == pytest.approx([5.5, 9.0, 6.0, 18 * 0.3048, 6.0])
    lanes, kind = "by the map's lanes and AASHTO", "by the map's kind of road and AASHTO"
    assert [road.width_from for road in said] == ["by the map's width", lanes, kind, "by the map's width", kind]
    assert all(road.opening_m > road.carriageway_m and 0 < road.width_sd_frac < 0.5 for road in said)
    assert faults == {"values of width that make no sense": 1}
    limits = [
        road_of({"highway": "primary", "maxspeed": text}, faults).speed_mps for text in ("80", "50 mph", "none")
    ]
    assert limits == pytest.approx([80 / 3.6, 50 * 0.44704, 70 / 3.6])  # a mile is 1.609344 km


def test_a_country_with_a_guide_of_its_own_has_its_lanes_and_its_limits_by_law() -> None:
    """Two lanes: TD 27/96 7.30 m; RAS-Q 1996 7.50 m (RQ 10.5), 6.50 m (RQ 9.5); Austroads 7.0 m."""
    from collections import Counter

    def road(country: str, **tags: str):
        return road_of({"highway": "primary", **tags}, Counter(), country)

    widths = {country: road(country).carriageway_m for country in ("GB", "DE", "AU", "LI", "")}
    assert widths == pytest.approx({"GB": 7.3, "DE": 7.5, "AU": 7.0, "LI": 7.2, "": 7.2})
    assert road("DE", highway="secondary").carriageway_m == 6.5
    assert road("GB").width_from == "by the map's kind of road and TD 27"
    # European Commission, Going Abroad; Highway Code, rule 124; Australian Road Rules, rule 25.
    laws = {
        "AT:rural": 100,
        "AT:urban": 50,
        "GB:nsl_single": 96.56,
        "AU:rural": 100,
        "DE:zone30": 30,
        "FL:zone:30": 30,
    }
    for zone, kmh in laws.items():
        for key in ("maxspeed", "source:maxspeed", "zone:traffic"):
            told = road("", **{key: zone})
            assert told.speed_mps * 3.6 == pytest.approx(kmh, abs=0.01)
            assert told.speed_from == "the limit by law"
    assert road("AT", highway="motorway").speed_mps * 3.6 == pytest.approx(130)
    assert road("LI", highway="trunk").speed_mps * 3.6 == pytest.approx(80)  # usual is more than legal
    assert road("", maxspeed="QQ:rural").speed_from == road("").speed_from == "usual for the kind of road"


def test_every_kind_of_road_that_may_be_driven_has_a_width_and_a_speed() -> None:
    from collections import Counter

    for kind in DRIVABLE:
        road = road_of({"highway": kind}, Counter())
        assert 2.5 < road.carriageway_m < 10
        assert 5 / 3.6 < road.speed_mps < 40
