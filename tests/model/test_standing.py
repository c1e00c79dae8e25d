"""Houses, single trees and drawn woods along a drive: what they leave of its light and energy."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc
from numpy.testing import assert_allclose
from standing import box, degrees_at

import routesolar as rs
from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.model.losses import loss_ledger
from routesolar.model.points import points_along
from routesolar.model.scene import set_scene
from routesolar.model.shade import cast_shade
from routesolar.model.sky import sky_states
from routesolar.model.standing import Beside
from routesolar.physics.geodesy import metres_per_degree
from routesolar.trip.canopy_doubt import STANDING_SD
from routesolar.trip.surroundings import TILE, Canopy, Placement, Terrain, TiledGrid, values_at

NOON = utc("2026-06-21T11:00:00+00:00")
PLACE = (47.0, 8.0)
COUNT, PANEL_M = 20, 2.4
RIG = rs.Rig(panels=(rs.Panel(rated_w=200.0),))


def drive(departures=(NOON,), **changes):
    return straight_drive(*PLACE, list(departures), segments=COUNT, step_s=2.5, **changes)


def houses_along(every_m=25.0, length_m=1000.0, height_m=9.0):
    """A house 10 m wide on the right of an eastward road, 4 m from its middle, every so many metres."""
    rings = [box(x, -14.0, x + 10.0, -4.0) for x in np.arange(0.0, length_m, every_m)]
    metres = np.concatenate(rings)
    latitude, longitude = degrees_at(PLACE, metres[:, 0], metres[:, 1])
    first = np.arange(len(rings) + 1) * 4
    return rs.Buildings(
        latitude_deg=latitude, longitude_deg=longitude, first=first, height_m=np.full(len(rings), height_m)
    )


def poplars(every_m=8.0, north_m=5.0, evergreen=0.0, length_m=1000.0):
    x = np.arange(0.0, length_m, every_m)
    latitude, longitude = degrees_at(PLACE, x, np.full(len(x), north_m))
    return rs.StandingCrowns(
        latitude_deg=latitude,
        longitude_deg=longitude,
        height_m=np.full(len(x), 20.0),
        crown_width_m=np.full(len(x), 4.0),
        evergreen_frac=np.full(len(x), evergreen),
    )


def open_around(segments):
    canopy = replace(Canopy.open(segments.count), lane_offset_m=np.zeros(segments.count))
    return rs.Surroundings(canopy=canopy, terrain=Terrain.flat(segments.count))


def cast(segments, around, azimuth=180.0, elevation=40.0):
    suns = (
        np.full((len(segments.departure_utc_s), segments.count), azimuth),
        np.full((len(segments.departure_utc_s), segments.count), elevation),
    )
    return cast_shade(segments, around.canopy, around.terrain, *suns, PANEL_M)


def test_of_a_road_past_houses_as_much_is_dark_as_their_shadows_cover():
    # The sun stands across the road, 40 degrees up: a roof 6.6 m over the panel shades 7.9 m, the road lies 4 m
    # off; 10 of every 25 m are dark.
    segments = drive()
    shade = cast(segments, open_around(segments).beside(buildings=houses_along()))
    assert_allclose(shade.beam_transmittance_frac.mean(), 0.6, atol=0.02)
    higher = cast(segments, open_around(segments).beside(buildings=houses_along()), elevation=60.0)
    assert (higher.beam_transmittance_frac == 1.0).all()


def test_points_stand_every_five_metres_only_where_something_stands_beside_the_road():
    segments = drive()
    around = open_around(segments).beside(buildings=houses_along(length_m=300.0))
    beside = Beside.of(around.canopy, around.terrain)
    points = points_along(segments, around.canopy, beside.near(segments))
    counts = np.diff(np.append(points.first, len(points.segment)))
    assert counts[:5].tolist() == [10] * 5
    assert counts[-5:].tolist() == [1] * 5


def test_half_the_step_gives_the_same_energy_past_houses_and_poplars():
    def energy_wh(count, step_s):
        one = straight_drive(*PLACE, [NOON + 6 * 3600], segments=count, step_s=step_s)
        around = open_around(one).beside(buildings=houses_along(27.0), standing=poplars(11.0))
        scene = set_scene(one, RIG, around.canopy.certain(), around.terrain)
        return rs.harvest(scene, rs.Sky(name="clear", forecast="known")).totals.energy_wh

    assert_allclose(energy_wh(40, 1.25), energy_wh(20, 2.5), rtol=0.005)


def test_without_houses_and_trees_nothing_changes_by_a_bit():
    segments = drive()
    around = rs.Surroundings(canopy=Canopy.uniform(COUNT, cover_frac=0.5), terrain=Terrain.flat(COUNT))
    far = houses_along()
    far = rs.Buildings(
        latitude_deg=far.latitude_deg + 1.0,
        longitude_deg=far.longitude_deg,
        first=far.first,
        height_m=far.height_m,
    )
    bare, same = cast(segments, around), cast(segments, around.beside(buildings=far))
    assert np.array_equal(bare.beam_transmittance_frac, same.beam_transmittance_frac)
    assert np.array_equal(bare.sky.transmittance_frac, same.sky.transmittance_frac)
    nothing = rs.Buildings(latitude_deg=[], longitude_deg=[], first=[0], height_m=[])
    assert around.beside(buildings=nothing) == around


def test_a_wood_and_a_row_of_trees_count_side_by_side():
    segments = drive()
    wood = rs.Surroundings(canopy=Canopy.uniform(COUNT, cover_frac=0.5), terrain=Terrain.flat(COUNT))
    both = cast(segments, wood.beside(standing=poplars(north_m=-5.0)), elevation=65.0)
    alone = cast(segments, wood, elevation=65.0)
    row = replace(open_around(segments), canopy=Canopy.open(COUNT))
    row = cast(segments, row.beside(standing=poplars(north_m=-5.0)), elevation=65.0)
    assert row.beam_transmittance_frac.mean() < 0.7
    assert_allclose(
        both.beam_transmittance_frac, alone.beam_transmittance_frac * row.beam_transmittance_frac, rtol=0.01
    )


def test_the_doubt_of_single_trees_widens_the_interval_and_that_of_houses_does_not():
    segments = drive()
    sky = rs.Sky(name="clear", forecast="known")

    def bounds_wh(around):
        totals = rs.harvest(rs.scene(segments, RIG, around), sky).totals
        return totals.energy_shade_low_wh, totals.energy_shade_high_wh

    row = open_around(segments).beside(standing=poplars(north_m=-5.0))
    assert row.canopy.doubt.heights_sd_frac == STANDING_SD
    low_wh, high_wh = bounds_wh(row)
    assert high_wh - low_wh > 0.02
    houses = bounds_wh(open_around(segments).beside(buildings=houses_along()))
    assert houses == (None, None)


def test_losses_to_houses_are_told_from_those_to_hills_and_trees():
    segments = drive([NOON + 6 * 3600])
    around = open_around(segments).beside(buildings=houses_along(), standing=poplars())
    scene = set_scene(segments, RIG, around.canopy, around.terrain)
    states = sky_states(rs.Sky(name="clear"), segments, scene.sun.apparent_elevation_deg)
    ledger = loss_ledger(scene, states)
    assert list(ledger.losses_wh)[1:4] == ["terrain", "buildings", "canopy"]
    assert ledger.losses_wh["terrain"] == 0.0
    assert ledger.losses_wh["buildings"] > 0.01
    assert_allclose(ledger.rated_clear_wh - sum(ledger.losses_wh.values()), ledger.battery_wh)


def square_wood(west, south, east, north, cover=0.7, height=18.0, evergreen=0.2):
    metres = box(west, south, east, north)
    latitude, longitude = degrees_at(PLACE, metres[:, 0], metres[:, 1])
    return rs.Woods(
        latitude_deg=latitude,
        longitude_deg=longitude,
        first=[0, 4],
        polygon=[0],
        cover_frac=[cover],
        height_m=[height],
        evergreen_frac=[evergreen],
    )


def canopy_of(segments, woods, **changes):
    sources = CanopySources(woods=woods, **changes)
    places = segments.middle_latitude_deg, segments.middle_longitude_deg
    return canopy_from(*places, sources, Said.nothing(segments.count))


@pytest.mark.parametrize(("azimuth", "elevation"), [(200.0, 40.0), (120.0, 25.0), (180.0, 60.0)])
def test_a_wood_drawn_across_the_road_shades_as_the_same_wood_that_is_stated(azimuth, elevation):
    segments = drive()
    wood = square_wood(-1500, -1500, 2500, 1500)
    drawn = canopy_of(segments, wood).canopy
    stated = Canopy.uniform(COUNT, cover_frac=0.7, height_m=18.0)
    both = [
        cast(segments, rs.Surroundings(canopy=one, terrain=Terrain.flat(COUNT)), azimuth, elevation)
        for one in (drawn, stated)
    ]
    assert_allclose(*(shade.beam_transmittance_frac for shade in both), atol=0.02)
    inner = np.s_[:, 3:-3]  # where the road ends it matters where in a segment one stands
    assert_allclose(*(shade.sky.transmittance_frac[inner] for shade in both), atol=0.02)


def test_woods_drawn_with_a_gap_for_the_road_shade_like_one_drawn_across_it():
    segments = drive()
    across = square_wood(-1500, -1500, 2500, 1500)
    halves = [box(-1500, -1500, 2500, -6.0), box(-1500, 6.0, 2500, 1500)]
    metres = np.concatenate(halves)
    latitude, longitude = degrees_at(PLACE, metres[:, 0], metres[:, 1])
    gap = replace(across, latitude_deg=latitude, longitude_deg=longitude, first=[0, 4, 8], polygon=[0, 0])
    shades = [
        cast(segments, rs.Surroundings(canopy=canopy_of(segments, wood).canopy, terrain=Terrain.flat(COUNT)))
        for wood in (across, gap)
    ]
    assert_allclose(*(shade.beam_transmittance_frac for shade in shades), atol=0.02)


def test_a_clearing_in_a_wood_is_open_and_its_kind_of_leaf_is_told_near_it():
    segments = drive()
    metres = np.concatenate([box(-800, -300, 1800, 300), box(200, -100, 400, 100)])
    latitude, longitude = degrees_at(PLACE, metres[:, 0], metres[:, 1])
    whole = square_wood(0, 0, 1, 1)
    wood = replace(whole, latitude_deg=latitude, longitude_deg=longitude, first=[0, 4, 8], polygon=[0, 0])
    read = canopy_of(segments, wood)
    grid, place = read.canopy.cover_frac, read.canopy.placement
    cover = values_at(grid, place.col, place.row)
    inside = (segments.middle_longitude_deg > longitude[4]) & (segments.middle_longitude_deg < longitude[5])
    assert_allclose(cover, np.where(inside, 0.0, 0.7), atol=1e-6)
    assert_allclose(read.evergreen_frac[0], 0.2, atol=1e-6)
    assert read.picture is not None


def test_what_is_said_of_the_cover_wins_over_the_map():
    segments = drive()
    read = canopy_of(segments, square_wood(-800, -300, 1800, 300), cover_frac=0.1)
    assert read.canopy.cover_frac is None
    assert (read.canopy.uniform_cover_frac == 0.1).all()


def test_a_long_road_with_no_other_trees_than_single_ones_has_its_interval():
    segments = straight_drive(*PLACE, [NOON], segments=125, step_s=2.5)
    row = open_around(segments).beside(standing=poplars(north_m=-5.0, length_m=7000.0))
    totals = rs.harvest(rs.scene(segments, RIG, row), rs.Sky(name="clear", forecast="known")).totals
    assert totals.energy_shade_low_wh < totals.energy_wh < totals.energy_shade_high_wh


@pytest.mark.parametrize(("azimuth", "elevation"), [(330.0, 25.0), (20.0, 40.0), (75.0, 15.0)])
def test_a_wood_beside_the_road_shades_as_a_raster_of_the_same_wood(azimuth, elevation):
    segments = drive()
    edge_m, far_m, cell_m = 8.0, 130.0, 10.0
    drawn = canopy_of(segments, square_wood(-1500, edge_m, 2500, far_m)).canopy
    north, east = metres_per_degree(PLACE[0])
    x = (segments.middle_longitude_deg - PLACE[1]) * east
    y = (segments.middle_latitude_deg - PLACE[0]) * north
    # Rows run southwards from 1,280 m north of the road; a cell's cover is its share of the wood.
    edges_m = 1280.0 - cell_m * np.arange(TILE + 1)
    share = (np.clip(edges_m[:-1], edge_m, far_m) - np.clip(edges_m[1:], edge_m, far_m)) / cell_m
    tile = np.broadcast_to((0.7 * share)[:, None], (TILE, TILE)).astype(np.float32)
    grid = TiledGrid(tiles=tile[None], slot=np.zeros((1, 1), np.int32), height=TILE, width=TILE)
    unknown = np.full(COUNT, np.nan)
    raster = replace(
        Canopy.uniform(COUNT, cover_frac=0.7, height_m=18.0),
        uniform_cover_frac=unknown,
        cover_frac=grid,
        placement=Placement(
            col=(x + 780.0) / cell_m,
            row=(1280.0 - y) / cell_m,
            cells_per_m=np.tile(np.diag([1.0, -1.0]) / cell_m, (COUNT, 1, 1)),
        ),
    )
    both = [
        cast(segments, rs.Surroundings(canopy=one, terrain=Terrain.flat(COUNT)), azimuth, elevation)
        for one in (drawn, raster)
    ]
    assert both[0].beam_transmittance_frac.mean() < 0.97
    assert_allclose(*(shade.beam_transmittance_frac for shade in both), atol=0.02)
