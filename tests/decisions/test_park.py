"""Where to park."""

import json
from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc
from standing import box, rings_at

from routesolar.decisions.criterion import TRIFLE_FRAC
from routesolar.decisions.park import HEADINGS_DEG, find_parking, park_dict, park_rows
from routesolar.decisions.stay import Stay, spots_around, stay_along, stay_at_stop
from routesolar.errors import InputError, UsageError
from routesolar.model.clear_sky import sun_on
from routesolar.model.shade import cast_shade
from routesolar.model.simulation import simulate
from routesolar.physics.geodesy import metres_per_degree
from routesolar.report.park_chart import park_png
from routesolar.report.units import METRIC
from routesolar.report.words_where import JUDGE, compass, park_words, taken_by
from routesolar.trip.drawable import Drawable
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Leg, Segments
from routesolar.trip.sky import Sky
from routesolar.trip.standing import Buildings, StandingCrowns
from routesolar.trip.surroundings import TILE, Canopy, Placement, Surroundings, Terrain, TiledGrid, values_at

CELL_M = 2.0
SIDE = 2 * TILE  # cells: 1024 m
LEVEL, LEANING = Rig(panels=(Panel(rated_w=200.0),)), Rig(panels=(Panel(rated_w=200.0, tilt_deg=30.0),))


def stay(latitude_deg: float = 50.0, start: str = "2026-12-15T09:00+00:00", hours: float = 6.0) -> Stay:
    start_utc_s = utc(start)
    return Stay("Camp", latitude_deg, 0.0, 100.0, 90.0, start_utc_s, start_utc_s + 3600 * hours, "UTC")


def trees(places: Segments, at: Stay, height_m: np.ndarray, cell_m: float = CELL_M) -> Canopy:
    """Columns of the given heights, the stop in the middle, north up."""
    degree = metres_per_degree(at.latitude_deg)
    east = (places.latitude_deg * 0 + places.longitude_deg - at.longitude_deg) * degree[1]
    north = (places.latitude_deg - at.latitude_deg) * degree[0]
    tiles = height_m.reshape(2, TILE, 2, TILE).swapaxes(1, 2).reshape(4, TILE, TILE).astype(np.float32)
    grid = TiledGrid(tiles=tiles, slot=np.arange(4, dtype=np.int32).reshape(2, 2), height=SIDE, width=SIDE)
    n = places.count
    return replace(
        Canopy.uniform(n, cover_frac=0.0),
        uniform_cover_frac=np.full(n, np.nan),
        height_m=grid,
        placement=Placement(
            col=SIDE / 2 + east / cell_m,
            row=SIDE / 2 - north / cell_m,
            cells_per_m=np.tile(np.diag([1, -1]) / cell_m, (n, 1, 1)),
        ),
    )


def wall(along_east: bool = True) -> np.ndarray:
    """A wall of trees 18 m tall through the stop, 8 m thick, from side to side."""
    height = np.zeros((SIDE, SIDE))
    middle = slice(SIDE // 2 - 2, SIDE // 2 + 2)
    height[(middle, slice(None)) if along_east else (slice(None), middle)] = 18.0
    return height


def parked(at: Stay, height_m: np.ndarray, rig: Rig = LEVEL, within_m: float = 40.0, sky: str = "clear"):
    places = spots_around(at, within_m)
    flat = Terrain.flat(places.count)
    return find_parking(at, places, rig, trees(places, at, height_m), flat, Sky(name=sky))


@pytest.mark.parametrize(
    ("latitude_deg", "winter", "shady"), [(50.0, "2026-12-15", 1.0), (-42.0, "2026-06-15", -1.0)]
)
def test_in_winter_the_side_of_a_tree_wall_away_from_the_equator_is_worse(latitude_deg, winter, shady):
    found = parked(stay(latitude_deg, f"{winter}T09:00+00:00"), wall())
    north_m = {spot: (spot.latitude_deg - latitude_deg) * 111_200 for spot in found.spots}
    # Nearer than 15 m the low sun comes in below the crowns, between the trunks.
    away = [spot for spot, metres in north_m.items() if 15 < shady * metres < 35]
    toward = [spot for spot, metres in north_m.items() if 15 < -shady * metres < 35]
    assert len(away) > 20 and len(toward) > 20
    assert max(spot.energy_wh for spot in away) < 0.6 * min(spot.energy_wh for spot in toward)
    assert north_m[found.spots[0]] * shady < 0


def test_east_of_a_wall_the_shade_comes_in_the_afternoon_and_west_of_it_goes_with_noon():
    found = parked(stay(50.0, "2026-06-15T05:00+00:00", 14.0), wall(along_east=False))
    noon = utc("2026-06-15T12:00+00:00")
    east = [spot for spot in found.spots if 10 < spot.longitude_deg * 71_700 < 14]
    west = [spot for spot in found.spots if -14 < spot.longitude_deg * 71_700 < -10]
    assert east and west
    assert all(spot.first_shade_utc_s > noon for spot in east)
    assert all(spot.last_shade_utc_s < noon for spot in west)


def test_shade_times_are_whole_minutes_and_those_of_a_look_every_minute():
    at = stay(50.0, "2026-06-15T05:07+00:00", 14.0)
    places = spots_around(at, 40.0)
    canopy = trees(places, at, wall(along_east=False))
    found = find_parking(at, places, LEVEL, canopy, Terrain.flat(places.count), Sky(name="clear"))
    minutes_utc_s = np.arange(at.start_utc_s, at.end_utc_s + 1, 60.0)
    each = np.repeat(minutes_utc_s[:, None], places.count, axis=1)
    then = replace(places, start_utc_s=each, duration_s=0 * each, departure_utc_s=minutes_utc_s)
    sun = sun_on(then)
    shade = cast_shade(
        then,
        replace(canopy, lane_offset_m=np.zeros(places.count)),
        Terrain.flat(places.count),
        sun.azimuth_deg,
        sun.apparent_elevation_deg,
        LEVEL.roof_height_m,
    )
    dark = shade.beam_transmittance_frac < 0.5
    index = {pair: i for i, pair in enumerate(zip(places.latitude_deg, places.longitude_deg, strict=True))}
    shaded = [spot for spot in found.spots if spot.first_shade_utc_s is not None]
    assert len(shaded) > 100
    for spot in shaded:
        looks = minutes_utc_s[dark[:, index[spot.latitude_deg, spot.longitude_deg]]]
        assert spot.first_shade_utc_s % 60 == spot.last_shade_utc_s % 60 == 0
        assert spot.first_shade_utc_s == pytest.approx(looks[0], abs=60.0)
        assert spot.last_shade_utc_s == pytest.approx(looks[-1], abs=60.0)


def test_where_no_spot_is_better_the_vehicle_stays():
    found = parked(stay(), np.zeros((SIDE, SIDE)))
    assert found.spots[0].distance_m == 0.0
    distances_m = [spot.distance_m for spot in found.spots]
    assert distances_m == sorted(distances_m)  # all are equal in the open
    assert park_words(found, METRIC).answer.startswith("Stay where you are, at Camp: expect ")
    tilted = parked(stay(), np.zeros((SIDE, SIDE)), LEANING)  # arrives heading east, better facing the sun
    assert park_words(tilted, METRIC).answer.startswith("Park at Camp itself, nose to 180° (S)")


def test_spots_under_trees_are_left_out_and_so_are_those_that_touch_one():
    found = parked(stay(), wall())
    assert found.here_wh is None
    nearest_m = min(abs(spot.latitude_deg - 50.0) * 111_200 for spot in found.spots)
    assert nearest_m >= 4.0 + 1.0  # the wall's half, and a vehicle beside it
    assert len(found.occupied_latitude_deg) + len(found.spots) == spots_around(stay(), 40.0).count


def test_in_the_open_every_spot_is_as_the_drive_itself():
    at = stay(50.04)  # off the borders of the turbidity map's cells
    found = parked(at, np.zeros((SIDE, SIDE)), LEANING)
    segments = straight_drive(
        50.04, 0.0, [at.start_utc_s], heading_deg=180.0, segments=36, step_s=600.0, speed_mps=0.0
    )
    alone = simulate(segments, LEANING, Canopy.open(36), Terrain.flat(36), [Sky(name="clear")])
    best = found.spots[0]
    assert best.heading_deg == 180.0  # the panel leans forward, the winter sun stands in the south
    assert best.energy_wh == pytest.approx(alone.totals.energy_wh, rel=2e-3)
    assert found.open_wh == pytest.approx(best.energy_wh, rel=2e-3)
    assert {spot.first_shade_utc_s for spot in found.spots} == {None}
    assert best.distance_m == 0.0  # of equal spots the nearest


@pytest.mark.parametrize(("latitude_deg", "facing"), [(50.0, 180.0), (-42.0, 0.0)])
def test_a_leaning_panel_faces_the_sun_and_a_level_one_does_not_care(latitude_deg, facing):
    at, free = stay(latitude_deg, "2026-03-20T06:00+00:00", 12.0), np.zeros((SIDE, SIDE))
    heading_deg = parked(at, free, LEANING).spots[0].heading_deg
    assert heading_deg is not None and abs((heading_deg - facing + 180) % 360 - 180) <= 10
    assert parked(at, free, LEVEL).spots[0].heading_deg is None


def test_standing_as_it_arrives_is_worse_than_facing_the_sun():
    found = parked(stay(), np.zeros((SIDE, SIDE)), LEANING)  # arrives heading east
    assert found.here_wh is not None and found.here_wh < 0.8 * found.spots[0].energy_wh


def test_ranks_rows_and_json_follow_the_contract():
    found = parked(stay(), wall())
    rows = park_rows(found)
    assert (
        list(rows[0])
        == (
            "rank latitude_deg longitude_deg distance_m heading_deg energy_wh first_shade last_shade taken_wh "
            "soc_end_frac lowest_soc_frac shortfall_wh"
        ).split()
    )
    energies = [row["energy_wh"] for row in rows]
    # Nobody behind another brings more than what counts as equal.
    assert all(max(energies[k:]) * (1 - TRIFLE_FRAC) <= energies[k] for k in range(len(energies)))
    assert [row["rank"] for row in rows] == list(range(1, len(rows) + 1))
    written = json.loads(json.dumps(park_dict(found), allow_nan=False))
    assert written["schema"] == "routesolar.park/1" and written["here_wh"] is None


def test_words_leave_law_and_safety_to_the_driver_and_the_picture_is_one():
    found = parked(stay(), wall(), LEANING)
    words = park_words(found, METRIC)
    assert JUDGE in words.remarks and "Camp itself is under trees." in words.remarks
    assert words.answer.startswith("Park ") and "nose to" in words.answer and "09:00 to 15:00" in words.answer
    assert park_png(found).startswith(b"\x89PNG") and park_png(found) == park_png(found)
    assert [compass(heading) for heading in (0, 44, 180, 359)] == ["N", "NE", "S", "N"]


def test_the_lattice_starts_at_the_stop_and_keeps_its_number():
    for within_m in (5.0, 30.0, 100.0, 1000.0):
        places = spots_around(stay(), within_m)
        assert places.count <= 400
        assert places.latitude_deg[0] == 50.0 and places.longitude_deg[0] == 0.0
        north_m = (places.latitude_deg - 50.0) * 111_230
        assert np.abs(north_m).max() <= within_m * 1.001
    assert spots_around(stay(), 100.0).count > 300


def test_what_is_needed_is_said_where_no_single_trees_are_known():
    at = stay()
    places = spots_around(at, 20.0)
    flat, sky = Terrain.flat(places.count), Sky(name="clear")
    for canopy in (Canopy.open(places.count), Canopy.uniform(places.count, cover_frac=0.5)):
        assert len(find_parking(at, places, LEVEL, canopy, flat, sky).spots) == places.count  # any is free
    coarse = trees(places, at, np.zeros((SIDE, SIDE)), cell_m=10.0)
    with pytest.raises(InputError, match="have cells of 10 m, too coarse to show single trees"):
        find_parking(at, places, LEVEL, coarse, flat, sky)
    with pytest.raises(InputError, match="every place is under trees"):
        parked(at, np.full((SIDE, SIDE), 12.0))


def test_a_night_is_refused():
    with pytest.raises(UsageError, match="sees no sun"):
        parked(stay(50.0, "2026-12-15T20:00+00:00", 6.0), np.zeros((SIDE, SIDE)))


def stopping() -> Segments:
    segments = straight_drive(50.0, 0.0, [utc("2026-06-15T09:00+00:00")], segments=60, step_s=60.0)
    rows = np.arange(60)
    stopped = (rows >= 20) & (rows < 30)
    return replace(
        segments,
        stopped=stopped,
        leg=np.where(rows < 20, 0, np.where(stopped, 1, 2)),
        legs=(Leg(name="out", kind="drive"), Leg(name="Lake Camp", kind="stop"), Leg(name="on", kind="drive")),
    )


def test_a_stop_is_found_by_name_with_its_own_time_or_another():
    at = stay_at_stop(stopping(), "lake camp")
    assert at.start_utc_s == utc("2026-06-15T09:20+00:00") and at.end_utc_s - at.start_utc_s == 600.0
    assert at.name == "Lake Camp" and at.heading_deg == 90.0
    assert stay_at_stop(stopping(), "Lake Camp", 7200.0).end_utc_s == at.start_utc_s + 7200.0
    assert stay_along(stopping(), 13_000.0, 3600.0).start_utc_s == utc("2026-06-15T09:10:50+00:00")  # 20 m/s


def test_a_stop_that_is_not_there_is_refused_with_the_nearest():
    with pytest.raises(UsageError, match=r'not a stop on the drive \(did you mean "Lake Camp"\?\); its stops'):
        stay_at_stop(stopping(), "Lake Kamp")
    plain = straight_drive(50.0, 0.0, [utc("2026-06-15T09:00+00:00")], segments=10)
    with pytest.raises(UsageError, match="the drive has no stops; add one with --stop"):
        stay_at_stop(plain, "anywhere")
    with pytest.raises(UsageError, match=r"the drive is 72\.0 km long"):
        stay_along(stopping(), 80_000.0, 60.0)
    with pytest.raises(UsageError, match="give for example --for 4h"):
        stay_along(stopping(), 1000.0, 0.0)
    with pytest.raises(UsageError, match="must be from 5m to 2km"):
        spots_around(stay(), 3000.0)


def test_heights_are_read_cell_by_cell_and_unknown_outside():
    height = np.zeros((SIDE, SIDE))
    height[300, 10] = 7.0
    tiles = height.reshape(2, TILE, 2, TILE).swapaxes(1, 2).reshape(4, TILE, TILE).astype(np.float32)
    grid = TiledGrid(tiles=tiles, slot=np.array([[0, 1], [2, -1]], dtype=np.int32), height=SIDE, width=SIDE)
    read = values_at(grid, np.array([10.99, 11.0, -0.1, 300.0]), np.array([300.5, 300.5, 5.0, 300.0]))
    assert read[:2].tolist() == [7.0, 0.0] and np.isnan(read[2:]).all()


def test_headings_are_every_ten_degrees():
    assert len(HEADINGS_DEG) == 36


def town(at: Stay, rings: list, tops: list):
    """Buildings from boxes in metres around a stop."""
    return Buildings(
        **dict(
            zip(
                ("latitude_deg", "longitude_deg", "first", "height_m"),
                rings_at((at.latitude_deg, at.longitude_deg), rings, tops),
                strict=True,
            )
        )
    )


def test_in_a_town_spots_stand_beside_houses_and_the_best_of_them_out_of_their_shade():
    at = stay(50.0, "2026-12-15T09:00+00:00")
    places = spots_around(at, 40.0)
    block = box(-40.0, -12.0, 40.0, -4.0)  # a row of houses south of the stop, 10 m tall
    terrain = replace(Terrain.flat(places.count), buildings=town(at, [block], [10.0]))
    found = find_parking(at, places, LEVEL, Canopy.open(places.count), terrain, Sky(name="clear"))
    degree = metres_per_degree(at.latitude_deg)
    taken_m = (found.occupied_latitude_deg - at.latitude_deg) * degree[0]
    assert len(taken_m) > 10
    assert np.all((taken_m > -14.01) & (taken_m < -1.99))
    # A sun of 16 degrees at most: shadows reach 26 m north of the row and more.
    north_m = {spot: (spot.latitude_deg - at.latitude_deg) * degree[0] for spot in found.spots}
    behind = [
        spot for spot, metres in north_m.items() if 0 < metres < 15 and abs(spot.longitude_deg) * degree[1] < 10
    ]
    before = [spot for spot, metres in north_m.items() if metres < -15]
    assert max(spot.energy_wh for spot in behind) < 0.6 * min(spot.energy_wh for spot in before)
    assert found.by_tree
    assert found.spots[0] in before


def test_no_spot_is_under_the_crown_of_a_single_tree():
    at = stay(50.0, "2026-06-15T09:00+00:00")
    places = spots_around(at, 30.0)
    tree = StandingCrowns(
        latitude_deg=[at.latitude_deg],
        longitude_deg=[at.longitude_deg],
        height_m=[15.0],
        crown_width_m=[12.0],
        evergreen_frac=[0.0],
    )
    canopy = replace(Canopy.open(places.count), standing=tree)
    found = find_parking(at, places, LEVEL, canopy, Terrain.flat(places.count), Sky(name="clear"))
    assert found.here_wh is None
    assert min(spot.distance_m for spot in found.spots) > 7.99  # its crown's radius and 2 m
    assert len(found.occupied_latitude_deg) > 3


def test_the_words_of_a_town_name_its_buildings():
    at = stay(50.0, "2026-12-15T09:00+00:00")
    places = spots_around(at, 40.0)
    terrain = replace(Terrain.flat(places.count), buildings=town(at, [box(-5.0, -5.0, 5.0, 5.0)], [10.0]))
    canopy = Canopy.open(places.count)
    found = find_parking(at, places, LEVEL, canopy, terrain, Sky(name="clear"))
    around = Drawable(
        segments=places, rig=LEVEL, around=Surroundings(canopy=canopy, terrain=terrain), sky=Sky(name="clear")
    )
    found = replace(found, drives=(around,))
    assert "Camp itself is under trees or in a building." in park_words(found, METRIC).remarks
    assert taken_by(found) == "taken, or not known"


def test_places_inside_buildings_are_left_out_without_a_warning_about_the_stop():
    at = stay(50.0, "2026-12-15T09:00+00:00")
    places = spots_around(at, 40.0)
    terrain = replace(Terrain.flat(places.count), buildings=town(at, [box(5.0, -5.0, 25.0, 25.0)], [10.0]))
    found = find_parking(at, places, LEVEL, Canopy.open(places.count), terrain, Sky(name="clear"))
    assert len(found.occupied_latitude_deg) > 5
    assert not any("inside buildings" in warning for warning in found.warnings)
