"""What routes of a comparison share."""

import pytest
from drives import straight_drive

from routesolar.decisions.same_terms import one_haze_at_deg


def at(latitude_deg: float, longitude_deg: float):
    return straight_drive(latitude_deg, longitude_deg, [1.8e9], segments=20, step_s=60.0, speed_mps=0.0)


def test_roads_near_each_other_have_the_haze_of_the_place_between_them():
    drives = [at(45.0, 9.0), at(46.0, 10.0), at(45.5, 8.0)]
    assert one_haze_at_deg(drives) == pytest.approx((45.5, 9.0), abs=1e-4)
    assert one_haze_at_deg(drives[::-1]) == one_haze_at_deg(drives)


def test_the_place_between_roads_on_both_sides_of_the_antimeridian_lies_there():
    latitude_deg, longitude_deg = one_haze_at_deg([at(-17.0, 179.5), at(-17.0, -179.3)])
    assert (latitude_deg, longitude_deg) == pytest.approx((-17.0, -179.9), abs=1e-4)


def test_roads_in_other_air_keep_their_own_haze():
    assert one_haze_at_deg([at(45.0, 9.0), at(45.0, 9.5), at(49.0, 9.0)]) is None
