"""Maps are read near a route, whatever they hold; broken ones are counted or refused in words."""

import json
import sqlite3
import struct
from pathlib import Path

import numpy as np
import pytest

from routesolar.errors import InputError
from routesolar.files.map_columns import columns_of, strings_of
from routesolar.files.map_files import ATTRIBUTION, read_maps
from routesolar.files.map_parts import pbf_parts, unpacked
from routesolar.files.map_rings import joined_rings
from routesolar.mapping.drawing import outlines_of
from routesolar.mapping.pauses import pauses_of
from routesolar.mapping.standing import stands_of
from routesolar.trip.mapped import MapFeatures
from tests.map_worlds import EAST_M, NORTH_M, SOUTH, WEST, box, degrees, write_map

ROUTE = degrees([0, 2000], [0, 0])
PLACES = {
    **{1 + k: (500.0 * k, 0.0) for k in range(5)},
    **{10 + k: place for k, place in enumerate(box(300, 20, 10))},
    **{20 + k: place for k, place in enumerate(box(-5000, -5000, 10_000))},  # no corner near the route
    **{30 + k: place for k, place in enumerate(box(600, 50, 40))},
    40: (800.0, 15.0),
    41: (90_000.0, 0.0),
    42: (900.0, 15.0),
}
POINTS = {40: {"natural": "tree", "height": "14"}, 41: {"natural": "tree"}, 42: {"place": "town", "name": "A"}}
WAYS = [
    (101, [1, 2, 3, 4, 5], {"highway": "primary", "lanes": "2", "name": "by the river"}),
    (102, [10, 11, 12, 13, 10], {"building": "yes", "building:levels": "4"}),
    (103, [20, 21, 22], {}),
    (104, [22, 23, 20], {}),
    (105, [30, 31, 32, 33, 30], {"landuse": "orchard"}),
]
RELATIONS = [
    (201, [("w", 103, "outer"), ("w", 104, "outer")], {"type": "multipolygon", "natural": "wood"}),
]


@pytest.fixture(autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path_factory.mktemp("cache")
    monkeypatch.setattr("routesolar.files.map_cache.usable_folder", lambda name: folder)
    return folder


def read(path: Path) -> MapFeatures:
    return read_maps((str(path),), *ROUTE)


KINDS = ("highway", "building", "natural", "landuse", "place")


def kinds(features: MapFeatures) -> list[str]:
    return sorted(
        next(f"{key}={value}" for key, value in tags.items() if key in KINDS) for tags in features.tags
    )


@pytest.mark.parametrize("ending", [".osm.pbf", ".osm"])
def test_what_the_reference_library_wrote_is_read_with_its_tags_and_places(tmp_path: Path, ending: str) -> None:
    found = read(write_map(tmp_path / f"land{ending}", PLACES, WAYS, RELATIONS, POINTS))
    there = "building=yes highway=primary landuse=orchard natural=tree natural=wood place=town"
    assert kinds(found) == there.split()
    road = next(one for one in found if "highway" in one.tags)
    lat, lon, node = road.rings[0]
    assert node.tolist() == [1, 2, 3, 4, 5]
    # The format keeps 1e-7 degrees: half of that is 6 mm.
    np.testing.assert_allclose(lat, degrees(0, [0] * 5)[0], atol=6e-8)
    np.testing.assert_allclose(lon, degrees([0, 500, 1000, 1500, 2000], 0)[1], atol=6e-8)
    assert road.tags == {"highway": "primary", "lanes": "2", "name": "by the river"}
    assert found.attribution == ATTRIBUTION
    assert found.faults == ()


def test_a_wood_around_a_route_is_found_without_a_corner_near_it(tmp_path: Path) -> None:
    stands = stands_of(read(write_map(tmp_path / "land.osm.pbf", PLACES, WAYS, RELATIONS, POINTS)))
    assert len(stands.woods.cover_frac) == 2
    assert np.ptp((stands.woods.longitude_deg - WEST) * EAST_M) == pytest.approx(10_000, abs=1)
    assert stands.buildings.height_m.tolist() == [12.0]  # four storeys of 3 m
    assert stands.crowns.height_m.tolist() == [14.0]


ABSURD = {
    "width": ["narrow", "-3", "1e9", "99999999999999", "", "3;4", "\u0663"],
    "height": ["12'", "1e9", "high", "-5", "inf", "nan"],
    "building:levels": ["-1", "1e9", "many", "NaN"],
    "maxspeed": ["fast", "-50", "1e9", "50 mph;30", "none"],
    "lanes": ["0", "-2", "1e9", "two"],
    "diameter_crown": ["wide", "0", "1e9"],
}


def test_absurd_tags_are_counted_and_never_crash(tmp_path: Path) -> None:
    ways, number, places = [], 1000, dict(PLACES)
    for key, values in ABSURD.items():
        for value in values:
            number += 1
            ways.append((number, [1, 2, 3], {"highway": "tertiary", key: value}))
            ways.append((number + 500, [10, 11, 12, 13, 10], {"building": "yes", key: value}))
            places[number] = (700.0, 5.0)
    points = {
        each: {"natural": "tree", key: value}
        for each, (key, value) in zip(
            range(1001, 1100), ((k, v) for k, vs in ABSURD.items() for v in vs), strict=False
        )
    }
    found = read(write_map(tmp_path / "odd.osm.pbf", places, ways, (), points))
    stands = stands_of(found)
    faults = dict(stands.faults)
    # One house and one tree with each: "12'" is 3.66 m and the digits of other scripts are none.
    assert faults["values of height that make no sense"] == 2 * (len(ABSURD["height"]) - 1)
    assert faults["values of building:levels that make no sense"] == len(ABSURD["building:levels"])
    assert np.isfinite(stands.buildings.height_m).all()
    assert stands.buildings.height_m.max() < 10


def test_broken_members_missing_corners_and_crossed_outlines_are_counted(tmp_path: Path) -> None:
    ways = [
        (103, [20, 21, 22], {}),
        (105, [30, 32, 31, 33, 30], {"natural": "wood"}),  # crosses itself
        (106, [10, 11, 12, 999, 10], {"natural": "wood"}),  # 999 is not there
        (107, [10, 11, 12], {"landuse": "forest"}),  # open
        (108, [10], {"building": "yes"}),
        (109, [10, 10, 10, 10], {"natural": "wood"}),
    ]
    relations = [
        (201, [("w", 103, "outer"), ("w", 104, "outer")], {"type": "multipolygon", "natural": "wood"}),
        (202, [("r", 202, ""), ("n", 1, ""), ("w", 105, "")], {"type": "multipolygon", "natural": "wood"}),
    ]
    found = read(write_map(tmp_path / "broken.osm.pbf", PLACES, ways, relations))
    faults = dict(found.faults)
    assert faults["areas with missing corners"] == 1
    assert faults["areas whose outline is open"] == 1
    assert faults["members of areas that are no lines"] == 2
    stands_of(found)


def test_a_damaged_map_is_refused_in_words_or_read(tmp_path: Path) -> None:
    whole = write_map(tmp_path / "land.osm.pbf", PLACES, WAYS, RELATIONS, POINTS).read_bytes()
    path, rng, refused = tmp_path / "cut.osm.pbf", np.random.default_rng(1), 0
    broken = [whole[:length] for length in range(0, len(whole), 37)]
    for _ in range(150):
        flipped = bytearray(whole)
        flipped[rng.integers(len(whole))] ^= 1 << rng.integers(8)
        broken.append(bytes(flipped))
    for content in broken:
        path.write_bytes(content)
        try:
            stands_of(read(path))
        except InputError as error:
            refused += 1
            assert "cut.osm.pbf" in str(error)
    assert refused > len(broken) / 2


def test_unpacked_blocks_that_lie_are_refused_or_read(tmp_path: Path) -> None:
    """Inside the packing nothing protects the numbers: every byte of a block is tried with other values."""
    path = write_map(tmp_path / "land.osm.pbf", PLACES, WAYS, RELATIONS, POINTS)
    with path.open("rb") as opened:
        blocks = [unpacked(opened, block) for block in pbf_parts(path).of_kind["n"]]
    rng = np.random.default_rng(2)
    for _ in range(400):
        lied = blocks[rng.integers(len(blocks))].copy()
        lied[rng.integers(len(lied), size=3)] = rng.integers(256, size=3)
        for kind in "nwr":
            try:
                for group in strings_of(lied).groups:
                    columns_of(lied, group, kind)
            except ValueError:
                pass


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.osm.pbf", b"", "cannot be read"),
        ("a.osm.pbf", b"<osm/>", "cannot be read"),
        ("a.osm", b"<gpx></gpx>", "not in the .osm format"),
        ("a.osm", b'<!DOCTYPE a [<!ENTITY b "c">]><osm>&b;</osm>', "document type"),
        ("a.osm", b'<osm><node id="x"/></osm>', "no number"),
        ("a.osm", b"<osm><node", "cannot be read"),
        ("a.osm", b'<osm><way id="1"><way id="2"/></way></osm>', "a way stands within a way"),
        ("a.osm", b'<osm><way id="1"><member type="way" ref="2"/></way></osm>', "a way holds a <member>"),
        ("a.osm", b'<osm><relation id="1"><nd ref="2"/></relation></osm>', "a relation holds a <nd>"),
        ("a.osm", b'<?xml version="1.0" encoding="UTF-9"?><osm/>', "encoding"),
        ("a.geojson", b"[" * 100_000, "not GeoJSON"),
        ("a.geojson", b'{"type": "Feature"}', "not GeoJSON"),
        ("a.gpkg", b"SQLite format 3\x00", "cannot be read"),
        ("a.shp", b"", "GeoPackage"),
    ],
)
def test_what_is_no_map_is_refused_in_words(tmp_path: Path, name: str, content: bytes, said: str) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=said) as error:
        read(tmp_path / name)
    assert name in str(error.value)


def test_an_extract_is_kept_and_a_changed_one_is_not_believed(
    tmp_path: Path, own_cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_map(tmp_path / "land.osm.pbf", PLACES, WAYS, RELATIONS, POINTS)
    first = read(path)
    (kept,) = own_cache.glob("*.npz")
    for flaw in (lambda b: b[:-10], lambda b: b[:50] + bytes([b[50] ^ 1]) + b[51:], lambda b: b""):
        kept.write_bytes(flaw(kept.read_bytes()))
        assert read(path) == first  # read from the map again, and kept again
    monkeypatch.setattr("routesolar.files.map_files._READERS", {".pbf": None, ".osm.pbf": None})
    assert read(path) == first


def geojson(*features: tuple[str, object, dict[str, object]]) -> bytes:
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "geometry": {"type": kind, "coordinates": where}, "properties": said}
                for kind, where, said in features
            ],
        }
    ).encode()


def corners(east_m: float, north_m: float, side_m: float) -> list[list[float]]:
    lat, lon = degrees(*np.transpose(box(east_m, north_m, side_m)))
    ring = np.stack([lon, lat], axis=1).tolist()
    return [*ring, ring[0]]


def test_geojson_of_woods_and_buildings_is_read_by_its_properties(tmp_path: Path) -> None:
    wood, yard = corners(500, 20, 100), corners(530, 50, 20)
    houses = [[corners(700, 20, 10)], [corners(720, 20, 10)]]
    wooded = {"natural": "wood", "height": 17.5, "canopy_cover_pct": 65, "leaf_type": "needleleaved"}
    content = geojson(
        ("Polygon", [wood, yard], wooded),
        ("MultiPolygon", houses, {"building": "yes", "building_levels": 3}),
        ("Polygon", [corners(90_000, 0, 10)], {"building": "yes"}),
        ("Polygon", [[[0, 0], [1]]], {"building": "yes"}),
        ("LineString", wood, {"what": "ever"}),
    )
    (tmp_path / "own.geojson").write_bytes(content)
    found = read(tmp_path / "own.geojson")
    stands = stands_of(found)
    assert (stands.woods.cover_frac, stands.woods.height_m, stands.woods.evergreen_frac) == (0.65, 17.5, 1.0)
    assert len(stands.woods.first) == 3  # outline and glade
    assert stands.buildings.height_m.tolist() == [9.0, 9.0]
    assert dict(found.faults) == {"objects without a shape on the map": 1, "objects of no known kind": 1}
    assert found.attribution == ""


def write_geopackage(path: Path, code: int, rings: list[list[tuple[float, float]]], more: str = "") -> Path:
    """Write forests 21 m tall in a system, and what else the base does."""

    def blob(ring: list[tuple[float, float]]) -> bytes:
        head = b"GP\x00\x01" + struct.pack("<i", code) + struct.pack("<BIII", 1, 3, 1, len(ring))
        return head + b"".join(struct.pack("<dd", *pair) for pair in ring)

    base = sqlite3.connect(path)
    base.executescript(
        f'''create table gpkg_spatial_ref_sys (srs_id, organization, organization_coordsys_id);
        insert into gpkg_spatial_ref_sys values (1, 'EPSG', {code});
        create table gpkg_geometry_columns (table_name, column_name, srs_id);
        insert into gpkg_geometry_columns values ('the "woods"', 'geom', 1);
        create table "the ""woods""" (geom blob, landuse text, height real);
        {more}'''
    )
    rows = [*((blob(ring), "forest", 21.0) for ring in rings), (b"GP", "forest", 1.0)]
    base.executemany('insert into "the ""woods""" values (?, ?, ?)', rows)
    base.commit()
    base.close()
    return path


def mercator(east_m: float, north_m: float, side_m: float) -> list[tuple[float, float]]:
    """Web Mercator: x = a lon, y = a ln tan(pi/4 + lat/2), a = 6378137 m (EPSG Guidance Note 7-2)."""
    lat, lon = degrees(*np.transpose(box(east_m, north_m, side_m)))
    x, y = np.radians(lon), np.log(np.tan(np.pi / 4 + np.radians(lat) / 2))
    return list(zip((6_378_137 * x).tolist(), (6_378_137 * y).tolist(), strict=True))


def test_a_geopackage_is_read_in_its_own_projection(tmp_path: Path) -> None:
    found = read(write_geopackage(tmp_path / "own.gpkg", 3857, [mercator(500, 20, 100)]))
    stands = stands_of(found)
    assert stands.woods.height_m.tolist() == [21.0]
    assert (stands.woods.latitude_deg - SOUTH) * NORTH_M == pytest.approx([20, 20, 120, 120], abs=0.01)
    assert dict(found.faults) == {"objects without a shape on the map": 1}


@pytest.mark.parametrize("far", [1e308, float("nan"), 1e12])
def test_positions_beyond_a_projection_are_left_out(tmp_path: Path, far: float) -> None:
    """They took minutes, or ended the run with exit 1."""
    wood = [(500_000.0, 5_437_000.0), (500_100.0, 5_437_000.0), (500_100.0, 5_437_100.0)]
    found = read(write_geopackage(tmp_path / "own.gpkg", 28355, [wood, [(far, far), *wood[1:]]]))
    assert dict(found.faults) == {"objects without a shape on the map": 2}


def test_a_view_that_never_ends_is_not_asked(tmp_path: Path) -> None:
    more = """create view v as
            with recursive c(geom) as (select 1 union all select geom + 1 from c) select * from c;
        insert into gpkg_geometry_columns values ('v', 'geom', 1);"""
    found = read(write_geopackage(tmp_path / "own.gpkg", 3857, [mercator(500, 20, 100)], more))
    assert len(found.tags) == 1


def test_coasts_are_lines_to_draw_and_woods_are_not_made_of_them(tmp_path: Path) -> None:
    ways = [(1, [20, 21, 22, 23, 20], {"natural": "coastline"}), (2, [30, 32], {"natural": "coastline"})]
    found = read(write_map(tmp_path / "coast.osm.pbf", PLACES, ways))
    assert found.shapes == ("line", "line")
    assert len(stands_of(found).woods.cover_frac) == 0
    assert sorted(len(line) for line in outlines_of(found).coasts) == [2, 5]


def test_rings_are_joined_in_any_order_and_direction() -> None:
    pieces = [np.array(piece) for piece in ([1, 2, 3], [5, 4, 3], [5, 6, 1], [7, 8, 9, 7], [10, 11])]
    rings, loose = joined_rings(pieces)
    assert loose == 1
    assert sorted(sorted(ring.tolist()) for ring in rings) == [[1, 2, 3, 4, 5, 6], [7, 8, 9]]


def test_places_to_pause_are_those_open_to_all_and_to_the_sky(tmp_path: Path) -> None:
    corners = {60 + k: place for k, place in enumerate(box(1000, 30, 40))}
    shut = {70 + k: place for k, place in enumerate(box(1200, 30, 40))}
    points = {80: (500.0, 20.0), 81: (700.0, 20.0), 82: (1500.0, 20.0)}
    ways = [
        (301, [60, 61, 62, 63, 60], {"amenity": "parking", "name": "Beach"}),
        (302, [70, 71, 72, 73, 70], {"amenity": "parking", "parking": "underground"}),
    ]
    tags = {
        80: {"highway": "rest_area"},
        81: {"tourism": "camp_site", "access": "private"},
        82: {"tourism": "picnic_site", "name": "Ford"},
    }
    found = pauses_of(read(write_map(tmp_path / "land.osm", corners | shut | points, ways, (), tags)))
    assert sorted(one.name for one in found) == ["lay-by", "parking place Beach", "picnic site Ford"]
    (beach,) = [one for one in found if one.clearing is not None]
    east_m = (beach.longitude_deg - WEST) * EAST_M
    north_m = (beach.latitude_deg - SOUTH) * NORTH_M
    assert (east_m, north_m) == pytest.approx(tuple(np.mean(box(1000, 30, 40), axis=0)), abs=1.0)
    # A square of 40 m is as large as a circle of 2 x 40 / sqrt(pi) = 45.1 m.
    assert beach.clearing.road_width_m == pytest.approx(80 / np.sqrt(np.pi), rel=0.01)
