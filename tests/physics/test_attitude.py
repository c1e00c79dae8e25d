"""The direction a panel looks: worked examples, a textbook's slopes, and symmetries no rotation may break."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from oracles import Published, published

from routesolar.physics import attitude, sun

turns = st.floats(0, 360)
tilts = st.floats(0, 90)
leans = st.floats(-30, 30)
grades = st.floats(-0.3, 0.3)
FAR_AWAY_AU = 1e12  # no parallax: the textbook's geocentric trigonometry


@pytest.mark.parametrize(
    "known", published("attitude.csv", "tilt") + published("attitude.csv", "azimuth"), ids=str
)
def test_tilt_and_azimuth_of_a_mounted_panel(known: Published) -> None:
    inputs = dict(known.inputs)
    grade_frac = np.tan(np.radians(inputs.pop("pitch_deg")))
    tilt, azimuth = attitude.tilt_and_azimuth_deg(attitude.panel_normal(grade_frac=grade_frac, **inputs))
    found = tilt if known.quantity == "tilt" else azimuth
    assert abs(turn_deg(found - known.value)) <= known.tolerance


@pytest.mark.parametrize("known", published("attitude.csv", "incidence_cos"), ids=str)
def test_incidence_of_a_flat_panel_on_a_slope(known: Published) -> None:
    normal = attitude.panel_normal(0, 0, 0, known.inputs["grade_frac"], known.inputs["heading_deg"])
    cosine = attitude.incidence_cos(normal, known.inputs["sun_azimuth_deg"], known.inputs["sun_elevation_deg"])
    assert abs(cosine - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("attitude.csv", "slope_incidence_cos"), ids=str)
def test_incidence_on_the_textbooks_slope(known: Published) -> None:
    assert abs(slope_incidence_cos(known) - known.value) <= known.tolerance


@pytest.mark.parametrize("known", published("attitude.csv", "beam_ratio"), ids=str)
def test_beam_on_the_textbooks_slope_against_the_level(known: Published) -> None:
    _, elevation_deg = textbook_sun(known)
    assert abs(slope_incidence_cos(known) / np.sin(np.radians(elevation_deg)) - known.value) <= known.tolerance


@pytest.mark.parametrize("grade_frac, pitch_deg", [(0.10, 5.7106), (0.06, 3.4336)])
def test_a_grade_is_the_tangent_of_the_pitch(grade_frac: float, pitch_deg: float) -> None:
    # Arithmetic: atan(0.10), atan(0.06).
    tilt, _ = attitude.tilt_and_azimuth_deg(attitude.panel_normal(0, 0, 0, grade_frac, 77))
    assert abs(tilt - pitch_deg) < 1e-4


@given(tilts, turns, leans, grades, turns)
def test_the_normal_is_what_three_rotation_matrices_make(
    tilt: float, facing: float, roll: float, grade: float, heading: float
) -> None:
    # Second formula: matrices for the axes forward-right-down of aerospace, whose third axis points down.
    t, f, r, h = np.radians([tilt, facing, roll, heading])
    p = np.arctan(grade)
    to_roll = np.array([[1, 0, 0], [0, np.cos(r), -np.sin(r)], [0, np.sin(r), np.cos(r)]])
    to_pitch = np.array([[np.cos(p), 0, np.sin(p)], [0, 1, 0], [-np.sin(p), 0, np.cos(p)]])
    to_heading = np.array([[np.cos(h), -np.sin(h), 0], [np.sin(h), np.cos(h), 0], [0, 0, 1]])
    body = np.array([np.sin(t) * np.cos(f), np.sin(t) * np.sin(f), -np.cos(t)])
    north, east, down = to_heading @ to_pitch @ to_roll @ body
    ours = attitude.panel_normal(tilt, facing, roll, grade, heading)
    assert np.allclose(ours, [east, north, -down], rtol=0, atol=1e-14)


@given(tilts, turns, leans, grades, turns)
def test_the_normal_has_unit_length(
    tilt: float, facing: float, roll: float, grade: float, heading: float
) -> None:
    normal = attitude.panel_normal(tilt, facing, roll, grade, heading)
    assert abs(np.linalg.norm(normal) - 1) < 1e-14


@given(leans, grades, turns)
def test_a_flat_panel_turned_round_on_the_same_slope_looks_the_same_way(
    roll: float, grade: float, heading: float
) -> None:
    one_way = attitude.panel_normal(0, 0, roll, grade, heading)
    other_way = attitude.panel_normal(0, 0, -roll, -grade, heading + 180)
    assert np.allclose(one_way, other_way, rtol=0, atol=1e-14)


@given(turns, turns, turns, st.floats(-90, 90))
def test_a_level_panel_does_not_care_about_heading(
    heading: float, facing: float, azimuth: float, elevation: float
) -> None:
    normal = attitude.panel_normal(0, facing, 0, 0, heading)
    cosine = attitude.incidence_cos(normal, azimuth, elevation)
    assert abs(cosine - max(np.sin(np.radians(elevation)), 0)) < 1e-15


@given(tilts, turns, leans, grades, turns, turns, st.floats(0, 90), turns)
def test_turning_vehicle_and_sun_together_changes_nothing(
    tilt: float,
    facing: float,
    roll: float,
    grade: float,
    heading: float,
    azimuth: float,
    elevation: float,
    turn: float,
) -> None:
    still = attitude.incidence_cos(
        attitude.panel_normal(tilt, facing, roll, grade, heading), azimuth, elevation
    )
    turned = attitude.panel_normal(tilt, facing, roll, grade, heading + turn)
    assert abs(attitude.incidence_cos(turned, azimuth + turn, elevation) - still) < 1e-12


@given(st.floats(0.1, 90), turns, turns)
def test_on_a_level_road_the_panel_leans_towards_heading_plus_facing(
    tilt: float, facing: float, heading: float
) -> None:
    found_tilt, found_azimuth = attitude.tilt_and_azimuth_deg(
        attitude.panel_normal(tilt, facing, 0, 0, heading)
    )
    assert abs(found_tilt - tilt) < 1e-9
    assert abs(turn_deg(found_azimuth - heading - facing)) < 1e-9


@given(st.floats(0.1, 180), turns)
def test_tilt_and_azimuth_give_the_normal_back(tilt: float, azimuth: float) -> None:
    assume(tilt < 179.9)
    normal = attitude.panel_normal(tilt, azimuth, 0, 0, 0)
    found_tilt, found_azimuth = attitude.tilt_and_azimuth_deg(normal)
    assert np.allclose(attitude.panel_normal(found_tilt, found_azimuth, 0, 0, 0), normal, rtol=0, atol=1e-12)
    assert 0 <= found_azimuth < 360


def test_a_level_panel_leans_nowhere() -> None:
    tilt, azimuth = attitude.tilt_and_azimuth_deg(attitude.panel_normal(0, 123, 0, 0, 45))
    assert tilt == 0
    assert np.isnan(azimuth)


def test_the_sun_behind_the_panel_gives_exactly_nothing_and_in_front_never_more_than_one() -> None:
    upright = attitude.panel_normal(90, 0, 0, 0, 0)
    assert attitude.incidence_cos(upright, 180, 10) == 0
    steep = attitude.panel_normal(30, 0, 0, 0, 137)
    assert attitude.incidence_cos(steep, 137, 60) == pytest.approx(1, abs=1e-15)
    assert attitude.incidence_cos(steep, 137, 60) <= 1


@given(tilts, turns)
def test_rounding_never_makes_the_cosine_more_than_one(tilt: float, azimuth: float) -> None:
    at_the_sun = attitude.panel_normal(tilt, azimuth, 0, 0, 0)
    assert 1 - 1e-15 < attitude.incidence_cos(at_the_sun, azimuth, 90 - tilt) <= 1


def test_departures_and_segments_broadcast_and_missing_values_stay_missing() -> None:
    heading = np.array([0.0, 90.0, np.nan])
    normal = attitude.panel_normal(10, 0, 0, np.array([[0.0], [0.1]]), heading)
    assert normal.shape == (2, 3, 3)
    cosine = attitude.incidence_cos(normal, np.full((2, 3), 180.0), 30.0)
    assert cosine.shape == (2, 3)
    assert np.array_equal(np.isnan(cosine), [[False, False, True]] * 2)
    single = attitude.incidence_cos(attitude.panel_normal(10, 0, 0, 0.1, 90.0), 180.0, 30.0)
    assert cosine[1, 1] == single


def textbook_sun(known: Published) -> tuple[float, float]:
    """Azimuth and elevation from latitude, declination and hour angle alone."""
    place = sun.observer(known.inputs["latitude_deg"], 0.0)
    geocentric = known.inputs["hour_angle_deg"], known.inputs["declination_deg"], FAR_AWAY_AU
    azimuth_deg, elevation_deg, _ = sun.topocentric(place, *geocentric)
    return azimuth_deg, elevation_deg


def slope_incidence_cos(known: Published) -> float:
    normal = attitude.panel_normal(known.inputs["tilt_deg"], known.inputs["facing_deg"], 0, 0, 0)
    return float(attitude.incidence_cos(normal, *textbook_sun(known)))


def turn_deg(angle_deg: float) -> float:
    """The angle brought to [-180, 180)."""
    return (angle_deg + 180) % 360 - 180
