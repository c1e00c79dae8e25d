"""Answers from several threads at once are those of one thread, bit for bit, whatever the others compute."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from terminal import ROOT, road

import routesolar as rs
from routesolar.trips.harvesting import harvest_trip

DEMO = ROOT / "demo_routes"
THREADS = 4


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> list[Callable[[], object]]:
    """Return four questions, each among trees in doubt where it knows of any."""
    words = {"panel": "200W", "depart": "2026-11-20 12:00", "speed": "60km/h", "canopy_cover": "60"}
    trip = rs.Trip.from_gpx(road(tmp_path_factory.mktemp("road")), **words)
    narrow = trip.with_(road_width="9m")
    forest = rs.read_trip(DEMO / "forest.toml")
    near = forest.with_(canopy_height=str(DEMO / "height_site_a.tif"))
    return [
        lambda: harvest_trip(trip),
        lambda: rs.rank_departures(trip, every="2h"),
        lambda: rs.compare([trip, narrow]),
        lambda: rs.park(near, "sampling site A", within="40m"),
    ]


def test_four_threads_give_what_one_gives(answers: list[Callable[[], object]]) -> None:
    alone = [answer() for answer in answers]
    with ThreadPoolExecutor(THREADS) as pool:
        # The second time the other way round, so that each question runs beside itself and beside others.
        found = list(pool.map(lambda answer: answer(), [*answers, *answers[::-1]]))
    assert found == [*alone, *alone[::-1]]
