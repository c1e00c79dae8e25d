"""Shade along a drive: trees, terrain, roofs and seasons put together, whatever the raster's grid."""

from dataclasses import replace
from operator import attrgetter

import numpy as np
import pytest
from canopy_scenes import habit
from drives import straight_drive, utc
from numpy.testing import assert_allclose

from routesolar.model.other_trees import canopy_at
from routesolar.model.shade import cast_shade
from routesolar.physics.corridor import REACH_M
from routesolar.physics.crowns import OVERHANG, RoadsideStand, straight_overlap
from routesolar.physics.dome import azimuth_deg, direction_weight, elevation_deg
from routesolar.physics.geodesy import metres_per_degree
from routesolar.physics.opening import overhang_at
from routesolar.physics.seasons import crown_transmittance_frac
from routesolar.trip.surroundings import TILE, Canopy, Placement, Terrain, TiledGrid, Trees

NOON = utc("2026-06-21T12:00:00+00:00")
COUNT = 40
PANEL_M = 2.4
LEAF = float(crown_transmittance_frac(1.0, [[0.0]]).item())


def drive(latitude=47.0, longitude=8.0, **changes):
    return straight_drive(latitude, longitude, [NOON], segments=COUNT, step_s=2.5, **changes)


def suns(azimuth=200.0, elevation=40.0, departures=1):
    shape = (departures, COUNT)
    return np.full(shape, azimuth), np.full(shape, elevation)


def level(count=COUNT):
    return np.tile([0.0, 0.0, 1.0], (1, count, 1))


def placed(segments, cell_m=20.0, turn=0.0):
    """A raster in metres around a drive, turned clockwise: where its points are, from the drive's middle."""
    north, east = metres_per_degree(segments.middle_latitude_deg.mean())
    apart = (segments.middle_longitude_deg - segments.middle_longitude_deg[COUNT // 2] + 180) % 360 - 180
    x, y = apart * east, (segments.middle_latitude_deg - segments.middle_latitude_deg.mean()) * north
    cells = np.array([[np.cos(turn), -np.sin(turn)], [-np.sin(turn), -np.cos(turn)]]) / cell_m
    col, row = cells @ np.vstack([x, y]) + TILE / 2 + 0.3
    return Placement(col=col, row=row, cells_per_m=np.tile(cells, (COUNT, 1, 1)))


def one_tile(values):
    tiles = np.broadcast_to(np.asarray(values, np.float32), (1, TILE, TILE)).copy()
    return TiledGrid(tiles=tiles, slot=np.zeros((1, 1), np.int32), height=TILE, width=TILE)


def rastered(segments, cover, height_m, *, place=None, **changes):
    unknown = np.full(COUNT, np.nan)
    fields = {
        "cover_frac": None if cover is None else one_tile(cover),
        "height_m": None if height_m is None else one_tile(height_m),
        "placement": place or placed(segments),
        "uniform_cover_frac": unknown,
        "uniform_height_m": unknown,
        "default_height_m": np.full(COUNT, 15.0),
        "road_width_m": np.full(COUNT, 12.0),
        "lane_offset_m": np.full(COUNT, 1.75),
    }
    return Canopy(**(fields | changes))


def cast(segments, canopy, sun=None, terrain=None):
    return cast_shade(segments, canopy, terrain or Terrain.flat(COUNT), *(sun or suns()), PANEL_M)


def test_an_open_sky_over_flat_land_takes_exactly_nothing():
    shade = cast(drive(), Canopy.open(COUNT))
    assert (shade.beam_transmittance_frac == 1.0).all()
    assert (shade.sky.view_frac(level(), np.zeros(COUNT)) == 1.0).all()


@pytest.mark.parametrize(("heading", "azimuth", "elevation"), [(90, 200, 40), (0, 300, 25), (215, 60, 62)])
def test_a_uniform_wood_shades_a_straight_road_as_the_closed_form_says(heading, azimuth, elevation):
    segments = drive(heading_deg=heading)
    canopy = Canopy.uniform(COUNT, cover_frac=0.6, height_m=18.0)
    beam = cast(segments, canopy, suns(azimuth, elevation)).beam_transmittance_frac[0, 10:-10]
    trunks = 6.0 + overhang_at(0.6, OVERHANG["opening"]) * 3.6
    stand = RoadsideStand(0.6, 18.0, trunks, 1.75, PANEL_M)
    met = straight_overlap(stand, habit(), float(azimuth - heading), float(elevation))
    assert_allclose(beam, np.exp(-(1 - LEAF) * met), atol=0.005)


@pytest.mark.parametrize("turn", [0.0, 0.5])
def test_the_same_wood_as_a_raster_turned_or_not_shades_the_same(turn):
    segments, narrow = drive(), np.full(COUNT, 1e-6)
    place = placed(segments, turn=turn)
    raster = cast(segments, rastered(segments, 0.6, 18.0, place=place, road_width_m=narrow))
    uniform = cast(segments, Canopy.uniform(COUNT, cover_frac=0.6, height_m=18.0, road_width_m=1e-6))
    assert_allclose(raster.beam_transmittance_frac, uniform.beam_transmittance_frac, atol=0.005)
    heading = segments.heading_deg
    assert_allclose(raster.sky.view_frac(level(), heading), uniform.sky.view_frac(level(), heading), atol=0.005)


def test_pixels_that_show_six_tenths_with_the_road_in_them_tell_of_a_denser_wood():
    segments = drive()
    raster = cast(segments, rastered(segments, 0.6, 18.0))
    uniform = cast(segments, Canopy.uniform(COUNT, cover_frac=0.6, height_m=18.0))
    assert raster.beam_transmittance_frac.mean() < uniform.beam_transmittance_frac.mean() - 0.02


SLENDER = Trees(crown_base_frac=0.1, crown_slenderness=3.0, height_spread_frac=0.2, road_width_between="trunks")
BROAD = Trees(crown_base_frac=0.5, crown_slenderness=1.0, evergreen_frac=0.8, road_width_between="trunks")
HALF = COUNT // 2


def halves(segments, canopy, kinds=(SLENDER, BROAD)):
    """Shade with the first half of a drive among one kind of trees, and with each of the two all along."""
    kind = np.repeat([0, 1], HALF)
    varied = suns(np.linspace(20.0, 340.0, COUNT), np.linspace(12.0, 65.0, COUNT), departures=2)
    both = cast(segments, replace(canopy, trees=kinds, kind=kind), varied)
    return both, [cast(segments, replace(canopy, trees=(trees,)), varied) for trees in kinds]


def same_shade(one, other, part):
    """Both shades are equal to the last digit on a part of the drive."""
    for name in ("beam_transmittance_frac", "sky.transmittance_frac"):
        np.testing.assert_array_equal(attrgetter(name)(one)[:, part], attrgetter(name)(other)[:, part])


@pytest.mark.parametrize("raster", ["none", "cover", "heights"])
def test_two_halves_among_trees_of_their_own_kind_are_as_each_kind_alone(raster):
    segments = drive()
    rng = np.random.default_rng(8)
    cover, height = rng.uniform(0.2, 0.9, (TILE, TILE)), rng.uniform(4, 25, (TILE, TILE))
    canopy = {
        "none": Canopy.uniform(COUNT, cover_frac=0.6, height_m=18.0),
        "cover": rastered(segments, cover, height),
        "heights": rastered(segments, None, np.where(cover < 0.4, height, 0.0), place=placed(segments, 4.0)),
    }[raster]
    both, alone = halves(segments, canopy)
    for part, shade in zip((np.s_[:HALF], np.s_[HALF:]), alone, strict=True):
        np.testing.assert_array_equal(
            both.beam_transmittance_frac[:, part], shade.beam_transmittance_frac[:, part]
        )
        np.testing.assert_array_equal(
            both.sky.transmittance_frac[:, part], shade.sky.transmittance_frac[:, part]
        )
    assert abs(alone[0].beam_transmittance_frac - alone[1].beam_transmittance_frac).max() > 0.05


def test_where_trees_lean_over_the_road_only_the_other_halfs_trunk_line_is_felt():
    # Half a road's width lies between "trunks" and "opening" by the crowns' radius: beyond reach, all is equal.
    segments = straight_drive(47.0, 8.0, [NOON], segments=COUNT, step_s=10.0)
    kinds = tuple(replace(trees, road_width_between="opening") for trees in (SLENDER, BROAD))
    both, alone = halves(segments, Canopy.uniform(COUNT, cover_frac=0.6, height_m=18.0), kinds)
    reach = int(np.ceil(REACH_M / segments.length_m[0])) + 1
    ends = np.s_[: HALF - reach], np.s_[HALF + reach :]
    for part, shade in zip(ends, alone, strict=True):
        assert both.sky.transmittance_frac[:, part].size > 0
        np.testing.assert_array_equal(
            both.sky.transmittance_frac[:, part], shade.sky.transmittance_frac[:, part]
        )
    assert_allclose(
        both.beam_transmittance_frac[:, :HALF], alone[0].beam_transmittance_frac[:, :HALF], atol=0.05
    )


@pytest.mark.parametrize("cell_m", [2.0, 1.0])
def test_finer_cells_of_cover_are_read_as_their_means_over_four_metres(cell_m):
    # The same wood on cells of 4 m: means of the cover, and of the heights by what is covered.
    segments, times = straight_drive(47.0, 8.0, [NOON], segments=COUNT, step_s=0.3), int(4 / cell_m)
    rng = np.random.default_rng(12)
    covered, height = rng.random((TILE, TILE)) < 0.6, rng.uniform(8, 25, (TILE, TILE))
    means, heights, few = np.full((TILE, TILE), np.nan), np.full((TILE, TILE), np.nan), TILE // times
    blocks = (few, times, few, times)
    count = covered.reshape(blocks).sum(axis=(1, 3))
    means[:few, :few] = count / times**2
    total = (covered * height).reshape(blocks).sum(axis=(1, 3))
    heights[:few, :few] = np.divide(total, count, out=np.full((few, few), np.nan), where=count > 0)
    fine = placed(segments, cell_m)
    coarse = Placement(col=fine.col / times, row=fine.row / times, cells_per_m=fine.cells_per_m / times)
    found = cast(segments, rastered(segments, covered, height, place=fine))
    grids = {name: one_tile(values) for name, values in (("cover_frac", means), ("height_m", heights))}
    bounds = {name: replace(grid, height=few, width=few) for name, grid in grids.items()}
    expected = cast(segments, replace(rastered(segments, means, heights, place=coarse), **bounds))
    assert_allclose(found.beam_transmittance_frac, expected.beam_transmittance_frac, atol=1e-4)
    assert_allclose(found.sky.transmittance_frac, expected.sky.transmittance_frac, atol=1e-4)


def test_what_the_driver_says_wins_over_the_raster():
    segments = drive()
    said = np.where(np.arange(COUNT) < COUNT // 2, 0.0, np.nan)
    canopy = rastered(segments, 0.8, 20.0, uniform_cover_frac=said)
    beam = cast(segments, canopy).beam_transmittance_frac[0]
    assert (beam[: COUNT // 2] == 1.0).all()
    assert (beam[COUNT // 2 :] < 0.9).all()


@pytest.mark.parametrize("latitude", [0.0, 47.0, -47.0])
def test_across_the_antimeridian_the_shade_is_the_same(latitude):
    here, there = drive(latitude), drive(latitude, 179.995)
    assert np.any(there.longitude_deg > 0)
    assert np.any(there.longitude_deg < 0)
    rng = np.random.default_rng(6)
    cover, height = rng.uniform(0, 0.9, (TILE, TILE)), rng.uniform(8, 25, (TILE, TILE))
    beams = [cast(s, rastered(s, cover, height)).beam_transmittance_frac for s in (here, there)]
    assert_allclose(*beams, atol=1e-6)


def test_single_trees_of_a_metre_scale_raster_shade_only_from_their_side():
    segments = drive()
    row = np.arange(TILE) - TILE / 2 - 0.3
    # A hedge 6 to 10 m north of a road to the east, on cells of one metre; the lane is south of the middle.
    heights = np.where((row >= -10) & (row < -6), 12.0, 0.0)[:, None] * np.ones(TILE)
    canopy = rastered(segments, None, heights, place=placed(segments, cell_m=1.0))
    near = slice(COUNT // 2 - 1, COUNT // 2 + 2)
    north = cast(segments, canopy, suns(0.0, 30.0)).beam_transmittance_frac[0, near]
    south = cast(segments, canopy, suns(180.0, 30.0)).beam_transmittance_frac[0, near]
    assert (north < 0.7).all()
    assert (south == 1.0).all()
    # A tenth more crowns is a tenth more optical depth (Beer's law), and nothing where nothing grows.
    more = canopy_at(canopy, np.array([0.0, np.log(1.1) / canopy.doubt.heights_sd_frac, 0.0, 0.0]))
    denser = cast(segments, more, suns(0.0, 30.0)).beam_transmittance_frac[0, near]
    assert_allclose(denser, north**1.1, rtol=0.01)  # the mean of a few points' powers
    assert (cast(segments, more, suns(180.0, 30.0)).beam_transmittance_frac[0, near] == 1.0).all()
    said = replace(canopy, uniform_cover_frac=np.zeros(COUNT))
    assert (cast(segments, said, suns(0.0, 30.0)).beam_transmittance_frac == 1.0).all()


def test_bare_trees_let_more_through_each_departure_by_its_own_season():
    segments = replace(
        drive(), start_utc_s=np.zeros((3, COUNT)), duration_s=np.ones((3, COUNT)), departure_utc_s=np.zeros(3)
    )
    tau = np.array([[0.1], [0.6], [0.1]])
    canopy = replace(Canopy.uniform(COUNT, cover_frac=0.6), crown_transmittance_frac=tau)
    shade = cast(segments, canopy, suns(departures=3))
    view = shade.sky.view_frac(level(), segments.heading_deg)
    for seen in (shade.beam_transmittance_frac, view):
        np.testing.assert_array_equal(seen[0], seen[2])
        assert (seen[0] < seen[1]).all()
    log = np.log(shade.beam_transmittance_frac)
    assert_allclose(log[0] / 0.9, log[1] / 0.4, rtol=1e-12)


def test_night_has_no_beam_to_speak_of():
    beam = cast(drive(), Canopy.uniform(COUNT, cover_frac=0.5), suns(elevation=-3.0)).beam_transmittance_frac
    assert np.isnan(beam).all()


def test_under_a_roof_nothing_is_left():
    segments = replace(drive(), roofed=np.arange(COUNT) == 7)
    shade = cast(segments, Canopy.open(COUNT))
    view = shade.sky.view_frac(level(), segments.heading_deg)[0]
    assert (shade.beam_transmittance_frac[0, 7], view[7]) == (0.0, 0.0)
    assert (np.delete(shade.beam_transmittance_frac[0], 7) == 1.0).all()
    assert_allclose(np.delete(view, 7), 1.0, rtol=1e-12)


@pytest.mark.parametrize(("horizon", "expected"), [(10.0, 0.9698), (30.0, 0.75)])
def test_an_even_horizon_leaves_the_square_of_its_cosine(horizon, expected):
    # Dozier & Frew 1990: cos^2 of the horizon for a level panel; exact.
    terrain = Terrain(horizon_deg=np.full((COUNT, 72), horizon))
    shade = cast(drive(), Canopy.open(COUNT), terrain=terrain)
    assert_allclose(shade.sky.view_frac(level(), np.zeros(COUNT)), expected, atol=5e-5)
    low = cast(drive(), Canopy.open(COUNT), suns(elevation=horizon - 0.1), terrain)
    high = cast(drive(), Canopy.open(COUNT), suns(elevation=horizon + 0.1), terrain)
    assert (low.beam_transmittance_frac == 0.0).all()
    assert (high.beam_transmittance_frac == 1.0).all()


@pytest.mark.parametrize("heading", [0.0, 90.0, 33.0])
def test_a_mountain_side_hides_its_half_of_the_sky_whatever_the_heading(heading):
    # Half a horizon of 30 deg: .875; exact. Azimuths stand 5 deg apart where they are widest.
    east = (np.arange(72) * 5.0 > 0) & (np.arange(72) * 5.0 <= 180)
    terrain = Terrain(horizon_deg=np.where(east, 30.0, 0.0) * np.ones((COUNT, 1)))
    shade = cast(drive(heading_deg=heading), Canopy.open(COUNT), terrain=terrain)
    assert_allclose(shade.sky.view_frac(level(), np.full(COUNT, heading)), 0.875, atol=0.01)


def test_trees_lean_over_a_road_that_runs_along_a_slope():
    # The ground rises to the north: trees there stand nearer to the sun's way than on the level.
    segments = drive()
    canopy = Canopy.uniform(COUNT, cover_frac=0.4)
    slopes = {"slope_east_frac": np.zeros(COUNT), "slope_north_frac": np.full(COUNT, 0.2)}
    hill = Terrain(horizon_deg=np.zeros((COUNT, 1)), **slopes)
    above, below = (cast(segments, canopy, suns(azimuth, 35.0), hill) for azimuth in (0.0, 180.0))
    flat = cast(segments, canopy, suns(0.0, 35.0))
    assert above.beam_transmittance_frac.mean() < flat.beam_transmittance_frac.mean() - 0.02
    assert below.beam_transmittance_frac.mean() > above.beam_transmittance_frac.mean() + 0.05


def test_a_tilted_panel_sees_its_own_part_of_the_sky():
    segments = drive(heading_deg=0.0)
    canopy = Canopy.uniform(COUNT, cover_frac=0.6, height_m=18.0, trees=Trees(lane_offset_m=0.0))
    shade = cast(segments, canopy)
    tilt = np.radians(20.0)
    right, left = (np.tile([s * np.sin(tilt), 0.0, np.cos(tilt)], (1, COUNT, 1)) for s in (1, -1))
    heading = segments.heading_deg
    # Without a lane offset both sides are alike, and a level panel sees more of the sky above the road.
    views = [shade.sky.view_frac(normal, heading)[0, COUNT // 2] for normal in (right, left, level())]
    assert views[0] == pytest.approx(views[1], rel=1e-6)
    assert views[2] > views[0]
    table = shade.sky.transmittance_frac[0, COUNT // 2]
    weight = direction_weight(np.array([[0.0, 0.0, 1.0]]), np.zeros(1))[0]
    assert views[2] == pytest.approx((table * weight).sum() / weight.sum(), rel=1e-12)
    assert table.shape == (len(azimuth_deg()), len(elevation_deg()))


def test_many_normals_are_those_of_their_departures():
    segments = drive()
    shade = cast(segments, Canopy.uniform(COUNT, cover_frac=0.6))
    tilt = np.radians(30.0)
    normals = np.stack([level()[0], np.tile([np.sin(tilt), 0.0, np.cos(tilt)], (COUNT, 1))])
    both = shade.sky.view_frac(normals, segments.heading_deg)
    for d in range(2):
        alone = shade.sky.view_frac(normals[d : d + 1], segments.heading_deg)
        np.testing.assert_array_equal(both[d], alone[0])
