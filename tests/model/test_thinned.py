"""Other trees looked at from a sample of points: the same interval as from all, and what must stay as it is."""

from dataclasses import replace

import numpy as np
import pytest
from bends import route_through, winding_m
from drives import utc
from numpy.testing import assert_allclose

from routesolar.model import other_trees
from routesolar.model.points import points_along
from routesolar.model.sweeping import sweep
from routesolar.model.thinned import SAMPLE, SKY_SAMPLE, Sample, raised, sample_of
from routesolar.timetable import drive
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.route import Plan
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

RIG = Rig(panels=(Panel(rated_w=200.0, tilt_deg=10.0),))
CLEAR = [Sky(name="clear")]
LEAVING = ("2026-04-20T07:00+02:00", "2026-04-20T10:00+02:00", "2026-04-20T17:00+02:00")


@pytest.fixture(scope="module")
def winding() -> Segments:
    departures = np.array([utc(when) for when in LEAVING])
    return drive(route_through(winding_m(30_000.0)), departures, plan=Plan(speed_mps=12.0, step_m=50.0))


def wood(segments: Segments) -> Canopy:
    return Canopy.uniform(segments.count, cover_frac=0.6, height_m=15.0, road_width_m=12.0)


def sample_along(segments: Segments) -> Sample:
    points = points_along(segments, wood(segments))
    sample = sample_of(segments, points, np.ones(len(points.segment)), SAMPLE)
    assert sample is not None
    return sample


def test_a_sample_of_points_gives_the_interval_of_all_of_them(winding, monkeypatch):
    # Second way: all points. Under a clear sky the interval is the trees'.
    flat, canopy = Terrain.flat(winding.count), wood(winding)
    sampled = sweep(winding, RIG, canopy, flat, CLEAR)
    assert len(sample_along(winding).some) < len(points_along(winding, canopy).segment) / 2
    monkeypatch.setattr(other_trees, "sample_of", lambda *_: None)
    every = sweep(winding, RIG, canopy, flat, CLEAR)
    assert np.array_equal(sampled.energy_wh, every.energy_wh)
    for name in ("energy_low_wh", "energy_mid_wh", "energy_high_wh"):
        error = np.abs(getattr(sampled, name) - getattr(every, name)) / every.energy_wh[0]
        assert error.max() < 0.010, name


def test_more_crowns_or_denser_ones_are_found_exactly_and_open_stays_open(winding):
    sample = sample_along(winding)
    met = np.random.default_rng(2).exponential(1.0, len(sample.of_point))  # crowns on the way to the sun
    met[::7] = 0.0
    stated = np.exp(-0.9 * met)[None]
    there = stated[:, sample.some]
    found = raised(stated, there, there**1.3, sample, sample.of_point)
    assert_allclose(found, stated**1.3, rtol=1e-4)
    assert np.all(found[:, ::7] == pytest.approx(1.0, abs=1e-4))
    unseen = np.full_like(there, np.nan)
    night = raised(np.full_like(stated, np.nan), unseen, unseen, sample, sample.of_point)
    assert np.isnan(night).all()
    behind_hills = raised(0 * stated, 0 * there, 0 * there, sample, sample.of_point)
    assert np.all(behind_hills == 0.0)


def test_every_stop_is_looked_at_by_itself(winding):
    stops = np.zeros(winding.count, dtype=bool)
    stops[[100, 101, 400]] = True
    halting = replace(winding, stopped=stops, length_m=np.where(stops, 0.0, winding.length_m))
    sample, points = sample_along(halting), points_along(halting, wood(halting))
    for stop in (100, 101, 400):
        (point,) = np.flatnonzero(points.segment == stop)
        (at,) = np.flatnonzero(sample.of_point[sample.some] == sample.of_point[point])
        assert sample.some[at] == point


def test_short_drives_are_looked_at_from_every_point(winding):
    few = winding.last(20)
    points = points_along(few, wood(few))
    assert sample_of(few, points, np.ones(len(points.segment)), SKY_SAMPLE) is None
