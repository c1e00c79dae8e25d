"""Distances and headings against published geodesics, geographiclib and the ellipsoid's own geometry."""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import assume, given
from hypothesis import strategies as st
from oracles import Published, published

from routesolar.physics import geodesy

latitudes = st.floats(-90, 90)
longitudes = st.floats(-180, 180, exclude_max=True)
headings = st.floats(0, 360, exclude_max=True)


@pytest.mark.parametrize("known", published("geodesy.csv", "distance"), ids=str)
def test_distances_are_those_published(known: Published) -> None:
    assert abs(geodesy.distance_m(**known.inputs) - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("geodesy.csv", "heading"), ids=str)
def test_headings_are_those_published(known: Published) -> None:
    assert abs(geodesy.heading_deg(**known.inputs) - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("geodesy.csv", "degree_north"), ids=str)
def test_a_degree_along_the_meridian_has_its_length(known: Published) -> None:
    latitude = known.inputs["latitude_deg"]
    assert abs(geodesy.distance_m(latitude - 0.5, 7, latitude + 0.5, 7) - known.value) <= known.tolerance
    # The radius of curvature holds at the centre; over a whole degree it misses up to 3 cm.
    assert abs(geodesy.metres_per_degree(latitude)[0] - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("geodesy.csv", "degree_east"), ids=str)
def test_a_degree_across_the_meridian_has_its_length(known: Published) -> None:
    latitude = known.inputs["latitude_deg"]
    assert abs(geodesy.distance_m(latitude, 6.5, latitude, 7.5) - known.value) <= known.tolerance
    # The parallel bends away from the shortest line by up to 0.6 m in a degree.
    assert -0.001 < geodesy.metres_per_degree(latitude)[1] - known.value < 0.6


@given(latitudes, longitudes, latitudes, longitudes)
def test_any_two_points_are_as_geographiclib_has_them(
    lat1: float, lon1: float, lat2: float, lon2: float
) -> None:
    theirs = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
    assert abs(geodesy.distance_m(lat1, lon1, lat2, lon2) - theirs["s12"]) < 1e-6
    # Close to the antipodes and to the pole a heading hangs on the last digit of the input.
    assume(1.0 < theirs["s12"] < 19_900_000 and abs(lat1) < 89.9)
    ours = geodesy.heading_deg(lat1, lon1, lat2, lon2)
    assert abs(turn_deg(ours - theirs["azi1"])) < 1e-6


@given(latitudes, longitudes, headings, st.floats(1, 2_000_000))
def test_going_there_and_measuring_back_gives_the_same(
    lat: float, lon: float, way: float, metres: float
) -> None:
    end = geodesy.destination(lat, lon, way, metres)
    assert abs(geodesy.distance_m(lat, lon, *end) - metres) < 1e-5
    assume(abs(lat) < 89.9 and metres > 100)
    assert abs(turn_deg(geodesy.heading_deg(lat, lon, *end) - way)) < 1e-5


@given(latitudes, longitudes, headings, st.floats(0, 20_000_000))
def test_headings_and_longitudes_stay_in_their_half_open_ranges(
    lat: float, lon: float, way: float, far: float
) -> None:
    end_lat, end_lon = geodesy.destination(lat, lon, way, far)
    assert -180 <= end_lon < 180
    assume(geodesy.distance_m(lat, lon, end_lat, end_lon) > 0)
    assert 0 <= geodesy.heading_deg(lat, lon, end_lat, end_lon) < 360


@given(latitudes, longitudes, latitudes, longitudes)
def test_the_way_back_is_as_long(lat1: float, lon1: float, lat2: float, lon2: float) -> None:
    there, back = geodesy.distance_m(lat1, lon1, lat2, lon2), geodesy.distance_m(lat2, lon2, lat1, lon1)
    assert abs(there - back) < 1e-6


@pytest.mark.parametrize("tiny", [-1e-20, -1e-14, 0.0, 360.0, 720.0, -360.0])
def test_a_hair_below_north_is_north_and_not_360(tiny: float) -> None:
    assert geodesy.wrap_heading_deg(tiny) < 360
    assert -180 <= geodesy.wrap_longitude_deg(tiny + 180) < 180


def test_the_antimeridian_is_no_border() -> None:
    over = geodesy.distance_m(-17, 179.99, -17, -179.99)
    elsewhere = geodesy.distance_m(-17, 9.99, -17, 10.01)
    assert abs(over - elsewhere) < 1e-6
    assert abs(geodesy.heading_deg(0, 179.99, 0, -179.99) - 90) < 1e-9
    assert abs(geodesy.heading_deg(0, -179.99, 0, 179.99) - 270) < 1e-9
    lat, lon = geodesy.destination(0, 179.999, 90, 1000)
    assert abs(lat) < 1e-12
    assert abs(lon - (-180 - 0.001 + 1000 / geodesy.metres_per_degree(0.0)[1])) < 1e-9


def test_over_the_pole_the_heading_turns_to_south() -> None:
    lat, lon = geodesy.destination(89.99, 30, 0, 2 * geodesy.distance_m(89.99, 30, 90, 30))
    assert abs(lat - 89.99) < 1e-9
    assert abs(turn_deg(lon - 210)) < 1e-6
    assert abs(geodesy.heading_deg(90, 30, 80, 30) - 180) < 1e-9
    assert abs(turn_deg(geodesy.heading_deg(-90, 30, -80, 30))) < 1e-9


def test_the_same_point_twice_has_no_heading() -> None:
    assert np.isnan(geodesy.heading_deg(50, 10, 50, 10))
    assert geodesy.distance_m(50, 10, 50, 10) == 0
    # The same place under two names: every longitude is the pole, and 180 is -180.
    assert geodesy.distance_m(90, 0, 90, 77) < 1e-6
    assert geodesy.distance_m(12, 180, 12, -180) < 1e-6


def test_a_missing_point_stays_missing_and_spoils_no_other() -> None:
    lat2 = np.array([np.nan, 51.0])
    assert np.array_equal(np.isnan(geodesy.distance_m(50, 10, lat2, 10)), [True, False])
    assert np.array_equal(np.isnan(geodesy.heading_deg(50, 10, lat2, 10)), [True, False])
    lat, lon = geodesy.destination(lat2, 10, 0, 1000)
    assert np.array_equal(np.isnan(lat), [True, False])
    assert np.array_equal(np.isnan(lon), [True, False])


def test_arrays_of_any_shapes_that_fit_give_what_single_points_give() -> None:
    lat2, lon2 = np.linspace(-60, 60, 3)[:, None], np.linspace(-170, 170, 4)
    metres = geodesy.distance_m(10, 20, lat2, lon2)
    assert metres.shape == (3, 4)
    assert metres[2, 1] == geodesy.distance_m(10, 20, 60, lon2[1])
    lat, lon = geodesy.destination(lat2, lon2, 45, 1000)
    assert lat.shape == lon.shape == (3, 4)
    assert (lat[0, 3], lon[0, 3]) == geodesy.destination(-60, 170, 45, 1000)


@given(st.floats(-89, 89))
def test_metres_per_degree_is_the_slope_of_the_distance(latitude: float) -> None:
    north_m, east_m = geodesy.metres_per_degree(latitude)
    step = 1e-3
    assert abs(geodesy.distance_m(latitude - step / 2, 0, latitude + step / 2, 0) / step - north_m) < 0.01
    assert abs(geodesy.distance_m(latitude, 0, latitude, step) / step - east_m) < 0.01


def test_metres_per_degree_takes_arrays_and_vanishes_eastwards_at_the_poles() -> None:
    north_m, east_m = geodesy.metres_per_degree(np.array([-90.0, 0.0, 45.0, 90.0]))
    assert np.array_equal(north_m[2], geodesy.metres_per_degree(45.0)[0])
    assert np.all(np.abs(east_m[[0, 3]]) < 1e-9)
    # Polar radius of curvature a^2/b, from the ellipsoid's definition.
    assert abs(north_m[3] - np.pi / 180 * 6378137.0**2 / 6356752.314245) < 1e-6


def turn_deg(angle_deg: float) -> float:
    """The angle brought to [-180, 180)."""
    return (angle_deg + 180) % 360 - 180
