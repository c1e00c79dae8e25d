"""Water, borders and towns around a route. Places and facts of geography are from memory of any atlas."""

import numpy as np
import pytest

from routesolar.files.outlines import read_outlines

LAKE = ([47.5, 46.2], [7.6, 6.1])  # from the Rhine's knee to the western end of Lake Geneva


def is_water(outlines, latitude_deg, longitude_deg):
    """By crossings of a ray to the east: an odd number of rings holds a wet place."""
    crossings = 0
    for ring in outlines.water:
        (y0, x0), (y1, x1) = ring[:-1].T, ring[1:].T
        over = (y0 > latitude_deg) != (y1 > latitude_deg)
        at = x0[over] + (latitude_deg - y0[over]) / (y1 - y0)[over] * (x1 - x0)[over]
        crossings += int(np.count_nonzero(at > longitude_deg))
    return crossings % 2 == 1


def outlines_of(latitude_deg, longitude_deg):
    return read_outlines(np.array(latitude_deg, float), np.array(longitude_deg, float))


@pytest.fixture(scope="module")
def lake():
    return outlines_of(*LAKE)


def test_a_lake_is_water_and_the_hills_beside_it_are_not(lake):
    assert is_water(lake, 46.45, 6.55)
    assert not is_water(lake, 46.8, 7.15)
    assert not is_water(lake, 47.0, 6.1)


def test_a_border_runs_along_the_lake_and_none_through_the_plain(lake):
    places = np.concatenate(lake.borders)
    away_deg = np.hypot(places[:, 0] - 46.42, 0.7 * (places[:, 1] - 6.65))
    assert away_deg.min() < 0.1
    plain = np.hypot(places[:, 0] - 46.95, 0.7 * (places[:, 1] - 7.45))  # Bern
    assert plain.min() > 0.3


def test_the_largest_towns_come_first_and_stand_where_they_are(lake):
    named = {town.name: town for town in lake.towns}
    assert {"Bern", "Basel", "Lausanne"} <= set(named)
    assert named["Bern"].latitude_deg == pytest.approx(46.95, abs=0.05)
    assert named["Bern"].longitude_deg == pytest.approx(7.45, abs=0.05)
    names = [town.name for town in lake.towns]
    assert names.index("Basel") < names.index("Lausanne")


def test_towns_keep_apart(lake):
    places = np.array([(town.latitude_deg, 0.68 * town.longitude_deg) for town in lake.towns])
    apart = np.hypot(*(places[:, None] - places).transpose(2, 0, 1)) + 9 * np.eye(len(places))
    assert apart.min() > 0.02


def test_sea_is_water_on_both_sides_of_the_antimeridian_and_islands_are_not():
    fiji = outlines_of([-17.0, -18.0], [178.0, -179.0])
    assert is_water(fiji, -16.2, 178.3)
    assert is_water(fiji, -17.5, 180.8)
    assert not is_water(fiji, -17.8, 178.0)  # Viti Levu
    assert not fiji.borders  # the meridian is none


def test_a_map_of_a_few_kilometres_has_towns_but_no_lines_of_a_kilometres_error():
    small = outlines_of([47.30, 47.31], [8.50, 8.52])
    assert not small.water
    assert not small.borders
    assert small.towns


def test_a_rugged_coast_stays_small_enough_for_a_page():
    coast = outlines_of([62.0, 64.5], [6.0, 11.0])
    assert sum(map(len, (*coast.water, *coast.borders))) <= 1200
    assert is_water(coast, 64.0, 7.0)
