"""Tracks as a phone's recorder writes them: a point a second, some metres off, the errors alike or not.

Roads are arcs and straights, so that their true length is known; the errors are normal with a given standard
deviation along each axis and a Gauss-Markov process of a given correlation time, the usual description of them
(common practice; Ranacher et al. 2016 found those of phones and cars strongly alike from point to point).
"""

from dataclasses import replace

import numpy as np
import pytest

from routesolar.physics.geodesy import metres_per_degree
from routesolar.timetable import drive
from routesolar.trip.route import Plan, Route
from routesolar.trip.segments import Segments
from tests.bends import hairpins_m
from tests.routes import START_UTC_S, route_of

STRAIGHT, GENTLE, WINDING = 0.0, 1 / 300, 1 / 80  # the sharpest curvature, 1/m
NOISES = [(8.0, 0.0), (8.0, 10.0), (8.0, 40.0), (3.0, 0.0)]


def arcs(curvature_per_m: float, speed_mps: float, seconds: int) -> np.ndarray:
    """Return a place a second, metres east and north, on arcs left and right and straights, 3 to 15 s each."""
    rng = np.random.default_rng(11)
    lasting = rng.integers(300, 1500, seconds)
    turn = np.repeat(curvature_per_m * rng.uniform(-1, 1, seconds), lasting)[: seconds * 100]
    heading = np.cumsum(turn) * speed_mps * 0.01
    places = np.cumsum(np.stack([np.sin(heading), np.cos(heading)], axis=1) * speed_mps * 0.01, axis=0)
    return places[::100]


def errors(count: int, spread_m: float, alike_s: float, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    lasting = np.exp(-1 / alike_s) if alike_s else 0.0
    fresh = rng.normal(0, spread_m * np.sqrt(1 - lasting**2), (count, 2))
    fresh[0] /= np.sqrt(1 - lasting**2)
    for index in range(1, count):
        fresh[index] += lasting * fresh[index - 1]
    return fresh


def recorded(metres: np.ndarray, times_s: np.ndarray | None = None) -> Route:
    north, east = metres_per_degree(-42.0)
    times_s = np.arange(len(metres)) if times_s is None else times_s
    return route_of(-42 + metres[:, 1] / north, 147 + metres[:, 0] / east, time_utc_s=START_UTC_S + times_s)


def km(segments: Segments) -> float:
    return float(segments.length_m.sum()) / 1000


@pytest.mark.parametrize(("spread_m", "alike_s"), NOISES)
@pytest.mark.parametrize(("curvature", "speed_mps"), [(STRAIGHT, 14.0), (GENTLE, 22.0), (WINDING, 12.0)])
@pytest.mark.parametrize("plan", [Plan(), Plan(speed_mps=80 / 3.6)])
def test_a_noisy_track_is_as_long_as_its_road(
    plan: Plan, curvature: float, speed_mps: float, spread_m: float, alike_s: float
) -> None:
    places = arcs(curvature, speed_mps, 2400)
    true_km = speed_mps * 2399 / 1000
    noisy = places + errors(len(places), spread_m, alike_s, seed=4)
    raw_km = np.hypot(*np.diff(noisy, axis=0).T).sum() / 1000
    segments = drive(recorded(noisy), None, plan=plan)
    assert km(segments) == pytest.approx(true_km, rel=0.01)
    assert abs(km(segments) - true_km) < max(0.004 * true_km, 0.5 * abs(raw_km - true_km))
    if raw_km > 1.01 * true_km:
        assert any("smoothed" in note for note in segments.notes)


@pytest.mark.parametrize(("spread_m", "alike_s"), NOISES)
@pytest.mark.parametrize(("radius_m", "speed_mps"), [(15.0, 5.5), (20.0, 6.5), (40.0, 9.0), (100.0, 14.0)])
def test_hairpins_driven_as_cars_do_keep_their_length(
    radius_m: float, speed_mps: float, spread_m: float, alike_s: float
) -> None:
    # 2 m/s2 to the side: road design counts on a side friction of .28 at 30 km/h, .17 at 60 (AASHTO's Green
    # Book, from memory). A smoother by itself leaves 5 to 6 % of the two tightest out.
    line = hairpins_m(radius_m, turns=24)
    way_m = np.arange(0.0, len(line) - 1, speed_mps)
    places = np.stack([np.interp(way_m, np.arange(len(line)), axis) for axis in line.T], axis=1)
    found = [
        km(drive(recorded(places + errors(len(places), spread_m, alike_s, seed)), None, plan=Plan()))
        for seed in (1, 2)
    ]
    assert np.mean(found) == pytest.approx(way_m[-1] / 1000, rel=0.02)


def test_a_hairpin_is_not_taken_for_a_stop() -> None:
    # Ten seconds before and after its middle the vehicle is at the same end of two straights, 18 m apart.
    line = hairpins_m(9.0, turns=24)
    places = line[::4] + errors(len(line[::4]), 2.0, 0.0, seed=1)
    segments = drive(recorded(places), None, plan=Plan())
    assert segments.speed_mps.min() > 2.0
    assert km(segments) == pytest.approx((len(line) - 1) / 1000, rel=0.03)


def test_a_track_without_noise_is_left_as_it_is() -> None:
    for curvature in (STRAIGHT, GENTLE, WINDING, 1 / 25):
        places = arcs(curvature, 9.0, 1200)
        segments = drive(recorded(places), None, plan=Plan())
        untimed = replace(recorded(places), time_utc_s=np.full(len(places), np.nan))
        drawn = drive(untimed, np.array([START_UTC_S]), plan=Plan(speed_mps=9.0))
        assert km(segments) == pytest.approx(km(drawn), rel=1e-9)
        assert not any("smoothed" in note for note in segments.notes)


def with_a_stop(spread_m: float, alike_s: float, minutes: int, seed: int) -> Route:
    """Return 20 minutes of road, a stop, and 20 minutes more."""
    there = arcs(GENTLE, 20.0, 2400)
    parked = np.repeat(there[1200:1201], 60 * minutes, axis=0)
    places = np.concatenate([there[:1200], parked, there[1200:]])
    return recorded(places + errors(len(places), spread_m, alike_s, seed))


@pytest.mark.parametrize(("spread_m", "alike_s"), [*NOISES, (8.0, 120.0), (0.0, 0.0)])
@pytest.mark.parametrize("plan", [Plan(), Plan(speed_mps=20.0)])
@pytest.mark.parametrize("seed", [1, 2])
def test_an_hour_parked_is_one_stop_of_an_hour(plan: Plan, spread_m: float, alike_s: float, seed: int) -> None:
    segments = drive(with_a_stop(spread_m, alike_s, 60, seed), None, plan=plan)
    assert [leg.kind for leg in segments.legs] == ["drive", "stop", "drive"]
    stopped_s = segments.duration_s[0, segments.stopped].sum()
    assert stopped_s == pytest.approx(3600, abs=90)
    assert km(segments) == pytest.approx(47.98, rel=0.01)


def test_a_given_speed_keeps_the_recorded_stops_and_says_so() -> None:
    segments = drive(with_a_stop(0.0, 0.0, 60, 1), None, plan=Plan(speed_mps=20.0))
    said = [note for note in segments.notes if "speed was given" in note]
    assert len(said) == 1 and "the recorded stop stays (1 h 00 min)" in said[0]
    # 47.98 km at 20 m/s, and the hour.
    assert segments.arrival_utc_s[0] - segments.departure_utc_s[0] == pytest.approx(2399 + 3600, abs=5)


def test_with_a_speed_times_that_cannot_be_used_are_no_reason_to_refuse() -> None:
    route = recorded(arcs(GENTLE, 20.0, 300), np.random.default_rng(1).permutation(300).astype(float))
    segments = drive(route, np.array([START_UTC_S]), plan=Plan(speed_mps=20.0))
    assert not segments.stopped.any()
