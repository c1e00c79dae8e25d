"""A trip with a map: its road, roofs, speeds and surroundings, and who is believed before the map."""

import json
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest

import routesolar as rs
from routesolar.mapping.drawing import MOST_CORNERS, outlines_of
from routesolar.physics.geodesy import distance_m
from routesolar.trip.mapped import MapFeature, MapFeatures
from routesolar.trip.stretches_used import used_along
from routesolar.trips.counting import from_one_start, to_one_end
from routesolar.trips.harvesting import harvest_trip
from tests.map_worlds import box, degrees, write_map

BESIDE = Path(__file__).parents[3] / "shared/data/osm-liechtenstein/liechtenstein.osm.pbf"
COUNTRY = Path(os.environ.get("ROUTESOLAR_COUNTRY", BESIDE))
SAID = {"panel": "200W", "depart": "2026-06-15 12:00", "sky": "clear", "season": "leaf-on"}
PLACES = {
    **{1 + k: (1000.0 * k, 0.0) for k in range(7)},
    **{20 + k: place for k, place in enumerate(box(1500, -700, 1400))},
    **{30 + k: place for k, place in enumerate(box(300, 12, 10))},
    40: (4500.0, 12.0),
}
WAYS = [
    (101, [1, 2], {"highway": "primary", "width": "8", "maxspeed": "72"}),
    (102, [2, 3, 4], {"highway": "tertiary", "maxspeed": "36"}),
    (103, [4, 5], {"highway": "tertiary", "tunnel": "yes"}),
    (104, [5, 6], {"highway": "service", "covered": "no"}),
    (105, [20, 21, 22, 23, 20], {"natural": "wood", "height": "18"}),
    (106, [30, 31, 32, 33, 30], {"building": "yes", "building:levels": "3"}),
]


@pytest.fixture(scope="module")
def land(tmp_path_factory: pytest.TempPathFactory) -> str:
    return str(
        write_map(tmp_path_factory.mktemp("land") / "land.osm", PLACES, WAYS, (), {40: {"natural": "tree"}})
    )


@pytest.fixture(scope="module")
def route() -> rs.Route:
    return rs.route_from_arrays(*degrees(np.arange(0.0, 6001.0, 100.0), np.zeros(61)), name="east")


@pytest.fixture(scope="module")
def trip(land: str, route: rs.Route) -> rs.Trip:
    return rs.Trip.along(route, map=land, speed="map", **SAID)


def values(trip: rs.Trip, key: str) -> dict[float, object]:
    """What is told at the middle of each kilometre."""
    drive = trip.drive()
    around = rs.surroundings(trip, drive)
    rows = used_along(drive, around.road, around.used)
    return {
        km: getattr(next(row for row in rows if row.from_km <= km <= row.to_km), key)
        for km in (0.5, 1.5, 2.5, 3.5, 4.5, 5.5)
    }


def test_speeds_roofs_and_road_come_from_the_map(trip: rs.Trip) -> None:
    drive = trip.drive()
    middle_km = (drive.along_m + drive.length_m / 2) / 1000
    for from_km, to_km, speed_mps in ((0, 1, 20), (1, 3, 10), (3, 4, 55 / 3.6), (4, 6, 15 / 3.6)):
        here = (middle_km > from_km) & (middle_km < to_km)
        assert drive.speed_mps[here] == pytest.approx(speed_mps, rel=1e-4)  # roads meet within a millimetre
    assert (drive.roofed * drive.length_m).sum() == pytest.approx(1000, abs=0.5)
    assert drive.roofed[(middle_km > 3) & (middle_km < 4)].all()
    assert [note for note in drive.notes if "83.3% of the way" in note]
    assert values(trip, "road") == {
        0.5: "primary", 1.5: "tertiary", 2.5: "tertiary", 3.5: "tertiary", 4.5: "service", 5.5: ""
    }  # fmt: skip
    assert values(trip, "opening_from")[0.5] == "by the map's width"
    assert values(trip, "opening_m")[0.5] == 8 + 2 * 3
    assert values(trip, "opening_m")[5.5] == 12  # on no road: as where nothing is said
    assert values(trip, "cover_from")[2.5] == "as in land.osm"


def test_woods_dim_and_a_tunnel_is_dark(trip: rs.Trip) -> None:
    harvest = harvest_trip(trip)
    middle_km = (harvest.segments.along_m + harvest.segments.length_m / 2) / 1000
    share = harvest.power_w / harvest.open_sky_w
    assert harvest.power_w[harvest.segments.roofed].max() == 0
    assert share[(middle_km > 1.6) & (middle_km < 2.8)].mean() < 0.6
    # A single tree of 10 m beside the road shades some 30 m of the last kilometre on the map.
    assert share[(middle_km > 5.1)].min() > 0.999


def test_who_is_believed_before_the_map(land: str, route: rs.Route) -> None:
    stretch = rs.Stretch(from_m=0, to_m=1000, road_width_m=30, canopy_cover_frac=0.2, roofed=False)
    light = rs.Stretch(from_m=3000, to_m=4000, roofed=False)
    trip = rs.Trip.along(route, map=land, speed="50km/h", surroundings=[stretch, light], **SAID)
    assert values(trip, "opening_m")[0.5] == 30
    assert values(trip, "cover_from")[0.5] == "given by kilometre"
    assert values(trip, "opening_from")[2.5] == "by the map's kind of road and AASHTO"
    assert not trip.drive().roofed.any()
    wide = rs.Trip.along(route, map=land, speed="50km/h", road_width="20m", canopy_cover="10", **SAID)
    assert set(values(wide, "opening_m").values()) == {20.0}
    assert set(values(wide, "cover_from").values()) == {"as given"}
    tall = rs.Trip.along(route, map=land, speed="50km/h", canopy_height="9m", **SAID)
    assert values(tall, "height_m")[2.5] == 9.0


def test_a_written_trip_names_its_map_and_reads_back_equal(trip: rs.Trip, tmp_path: Path) -> None:
    rs.write_trip(trip, tmp_path / "trip.toml")
    text = (tmp_path / "trip.toml").read_text(encoding="utf-8")
    assert 'speed = "map"' in text
    assert "land.osm" in text
    again = rs.read_trip(tmp_path / "trip.toml")
    assert again == trip
    assert again.plan.road == trip.plan.road


def test_who_waits_before_or_after_a_drive_stands_on_its_first_or_last_road(trip: rs.Trip) -> None:
    """Departures counted to one end, and roads compared, were refused with a map."""
    start_utc_s = trip.drive().departure_utc_s[0]
    drive = trip.drive(start_utc_s + np.array([0.0, 3600.0]))
    counted = from_one_start(to_one_end(drive))
    assert counted.count > drive.count + 2
    road = rs.surroundings(trip, counted).road
    assert road is not None
    assert (road.road[counted.stretch[0]], road.road[counted.stretch[-1]]) == ("primary", "")


def test_a_route_that_leaves_its_map_is_told_so(land: str) -> None:
    """The map's last road ends at 5 km, so that 8 of 14 km lie more than 1 km beyond it: 57.1 %."""
    route = rs.route_from_arrays(*degrees(np.arange(0.0, 14_001.0, 100.0), np.zeros(141)), name="east")
    warnings = rs.Trip.along(route, map=land, speed="map", **SAID).drive().warnings
    assert [words for words in warnings if "land.osm shows nothing within 1 km of the route on 57." in words]


def test_speeds_of_a_map_need_a_map(route: rs.Route) -> None:
    with pytest.raises(rs.UsageError, match="--map region"):
        rs.Trip.along(route, speed="map", **SAID)
    with pytest.raises(rs.InputError, match="no such file"):
        rs.Trip.along(route, map="nowhere.osm.pbf", speed="map", **SAID)


def test_the_page_draws_the_map_names_its_owner_and_stays_small(trip: rs.Trip, tmp_path: Path) -> None:
    from routesolar.trips.saving import save

    save(harvest_trip(trip), tmp_path / "out", units="metric", also=(), force=False)
    page = (tmp_path / "out" / "page.html").read_text(encoding="utf-8")
    assert "© OpenStreetMap contributors, ODbL" in page
    assert 'class="main-road"' in page
    result = json.loads((tmp_path / "out" / "result.json").read_text(encoding="utf-8"))
    (read,) = [row for row in result["inputs"] if row["what"] == "map"]
    assert read["attribution"] == "© OpenStreetMap contributors, ODbL"
    assert [row["roofed"] for row in result["surroundings"]].count(True) == 1
    said = tomllib.loads(result["stated"])
    assert said == {
        "route": ["east"], "map": ["land.osm"], "panel": "200W", "depart": "2026-06-15 12:00:00",
        "speed": "map", "sky": "clear", "season": "leaf-on",
    }  # fmt: skip


def test_what_is_drawn_of_a_map_is_bounded() -> None:
    turn = np.linspace(0, 200 * np.pi, 30_000)
    lat, lon = degrees(turn * 100 * np.cos(turn), turn * 100 * np.sin(turn))
    ring = (lat, lon, np.arange(len(lat)))
    lakes = [MapFeature("area", {"natural": "water"}, (ring,)) for _ in range(3)]
    names = [
        MapFeature("point", {"place": "city", "name": f"<b>{k}"}, ((lat[:1], lon[:1], ring[2][:1]),))
        for k in range(99)
    ]
    drawn = outlines_of(MapFeatures.of([*lakes, *names]))
    assert sum(map(len, drawn.ponds)) <= MOST_CORNERS
    assert len(drawn.towns) < 99


@pytest.mark.compiled
def test_hairpins_and_tunnels_of_a_real_country_through_noise_of_8_m() -> None:
    """Up to a mountain village and through its tunnel, along the country's own roads."""
    if not COUNTRY.exists():
        pytest.skip("the extract of a whole country is not part of the repository")
    from routesolar.files.map_files import read_maps
    from routesolar.mapping.network import Network

    ends = (47.14, 9.52), (47.105, 9.605)
    land = read_maps((str(COUNTRY),), *np.transpose([ends[0], (47.12, 9.56), ends[1]]))
    kinds = ("primary", "secondary", "tertiary", "unclassified")
    network = Network.of(MapFeatures.of([one for one in land if one.tags.get("highway") in kinds]))

    def vertex(lat: float, lon: float) -> int:
        main = [v for way in network.ways for v in way.node.tolist()]
        return min(
            main, key=lambda v: (network.places[v][0] - lat) ** 2 + (0.68 * (network.places[v][1] - lon)) ** 2
        )

    start, end = (vertex(*place) for place in ends)
    reached = network.reached(start, 40_000.0)
    way = [end]
    while way[-1] != start:
        way.append(reached[way[-1]][1])
    lat, lon = np.transpose([network.places[v] for v in reversed(way)])
    along = np.concatenate([[0.0], np.cumsum(distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]))])
    at, rng = np.append(np.arange(0.0, along[-1], 15.0), along[-1]), np.random.default_rng(3)
    noisy = [
        np.interp(at, along, part) + rng.normal(0, 8, len(at)) / scale
        for part, scale in ((lat, 111_200), (lon, 75_700))
    ]
    said = {"map": str(COUNTRY), "panel": "200W", "depart": "2026-06-21 10:00", "speed": "map", "sky": "clear"}
    clean, rough = (
        harvest_trip(rs.Trip.along(rs.route_from_arrays(*line), **said)) for line in ((lat, lon), noisy)
    )
    assert rough.totals.energy_wh == pytest.approx(clean.totals.energy_wh, rel=0.02)
    for harvest in (clean, rough):
        dark = harvest.segments.roofed
        assert dark.any()
        assert harvest.power_w[dark].max() == 0
        assert harvest.segments.length_m[dark].sum() == pytest.approx(
            (clean.segments.length_m * clean.segments.roofed).sum(), abs=5
        )
