"""Roads side by side on the command line: one sky, one rig, one common end, and departures that are told."""

from pathlib import Path

import pytest
from routes import gpx, point, straight, track
from terminal import ROOT, refused, run

CLOSED = """route = ["{route}"]
panel = "200W"
depart = "{depart}"
speed = "{speed}"
sky = "{sky}"
canopy_cover = "{cover}"
"""


def road_to_town(
    folder: Path, name: str, *, length_km: float, heading: int, to_deg: float = -42.0, **said: object
) -> Path:
    """Write a trip of a straight road that ends at 147 E, coming from some side; return its path."""
    latitude, longitude = straight([length_km * 1000, 0.0], latitude_deg=to_deg, heading_deg=heading)
    points = [point(*place, "<ele>100</ele>") for place in zip(latitude, longitude, strict=True)]
    (folder / f"{name}.gpx").write_text(gpx(track(*points)), encoding="utf-8")
    usual = {"depart": "2026-11-20 10:00", "speed": "60km/h", "sky": "broken", "cover": 0}
    path = folder / f"{name}.toml"
    path.write_text(CLOSED.format(route=f"{name}.gpx", **usual | said), encoding="utf-8")
    return path


def rows(*words: object) -> dict[str, dict]:
    return {row["route"]: row for row in run("compare", *words, "--json").json["rows"]}


def test_the_faster_road_is_counted_to_the_end_of_the_slower(tmp_path: Path) -> None:
    fast = road_to_town(tmp_path, "fast", length_km=20, heading=0)
    slow = road_to_town(tmp_path, "slow", length_km=60, heading=0)
    found = rows(fast, slow)
    # Both roads are open and the panel flat: an hour is an hour, but for the wind of driving that cools cells.
    assert found["fast"]["energy_wh"] == pytest.approx(found["slow"]["energy_wh"], rel=0.05)
    assert found["fast"]["waiting_wh"] == pytest.approx(2 / 3 * found["slow"]["energy_wh"], rel=0.06)
    assert found["slow"]["waiting_wh"] == 0
    assert found["fast"]["win_prob"] == pytest.approx(0.5, abs=0.2)
    assert found["fast"]["duration_s"] == pytest.approx(1200, abs=1)


def test_at_one_destination_all_wait_in_the_same_shade(tmp_path: Path) -> None:
    first = road_to_town(tmp_path, "first", length_km=10, heading=0)
    woods = road_to_town(tmp_path, "woods", length_km=20, heading=135, cover=70)
    slow = road_to_town(tmp_path, "slow", length_km=60, heading=90)
    elsewhere = road_to_town(tmp_path, "elsewhere", length_km=20, heading=135, cover=70, to_deg=-41.99)
    found = rows(first, woods, slow, elsewhere)
    hours = {name: 1 - row["duration_s"] / 3600 for name, row in found.items()}
    per_hour = {name: row["waiting_wh"] / hours[name] for name, row in found.items() if row["waiting_wh"]}
    # The sun climbs on between 10 and 11, so the later wait brings a little more an hour.
    assert per_hour["woods"] == pytest.approx(per_hour["first"], rel=0.05)
    assert per_hour["elsewhere"] < 0.7 * per_hour["first"]


def test_the_order_given_changes_no_energy(tmp_path: Path) -> None:
    trips = [
        road_to_town(tmp_path, f"road {cover}", length_km=10 + cover, heading=cover, cover=cover)
        for cover in (0, 30, 60)
    ]
    ways = rows(*trips), rows(*trips[::-1])
    assert {k: row["energy_wh"] for k, row in ways[0].items()} == {
        k: r["energy_wh"] for k, r in ways[1].items()
    }


def test_each_at_its_best_names_the_departures(tmp_path: Path) -> None:
    east = road_to_town(tmp_path, "east", length_km=20, heading=90)
    north = road_to_town(tmp_path, "north", length_km=60, heading=0)
    asked = [east, north, "--best", "--date", "2026-11-20", "--from", "08:00", "--to", "16:00", "--every", "1h"]
    found = rows(*asked)
    first_line = run("compare", *asked).out.partition("sky.")[0].replace("\n  ", " ")
    for name, row in found.items():
        leaving = row["depart"][11:16]
        assert (
            f"{name} leaving at {leaving}" in first_line or found["east"]["depart"] == found["north"]["depart"]
        )
        alone = run("departures", tmp_path / f"{name}.toml", *asked[3:], "--json").json["rows"][0]
        assert alone["depart"] == row["depart"]
        # Counted for the same time, the drive itself is that of `departures`, but for the haze all share.
        assert row["energy_wh"] - row["waiting_wh"] == pytest.approx(alone["energy_wh"], rel=2e-3)


def test_departures_that_differ_are_told_in_the_first_line(tmp_path: Path) -> None:
    early = road_to_town(tmp_path, "early", length_km=20, heading=0)
    late = road_to_town(tmp_path, "late", length_km=20, heading=0, depart="2026-11-20 13:00")
    out = run("compare", early, late).out
    assert out.replace("\n  ", " ").startswith(
        "On open roads, too close to call: late leaving at 13:00 gathers "
    )
    assert "on early leaving at 10:00, under broken sky." in out.replace("\n  ", " ")


def test_rigs_that_differ_are_told_in_the_first_line(tmp_path: Path) -> None:
    small = road_to_town(tmp_path, "small", length_km=20, heading=0)
    large = road_to_town(tmp_path, "large", length_km=20, heading=0)
    large.write_text(large.read_text(encoding="utf-8").replace("200W", "400W"), encoding="utf-8")
    out = run("compare", small, large).out
    assert out.startswith("On open roads, the routes differ in panels. large gathers the most")
    assert run("compare", small, large, "--json").json["differ"] == ["panels"]
    alike = run("compare", small, large, "--panel", "200W").out
    assert alike.startswith("On open roads, small and large gather the same")


@pytest.mark.parametrize("sky", ["rain", "clear"])
def test_skies_that_differ_are_refused(tmp_path: Path, sky: str) -> None:
    one = road_to_town(tmp_path, "one", length_km=20, heading=0)
    other = road_to_town(tmp_path, "other", length_km=20, heading=0, sky=sky)
    assert f"one: broken, tomorrow; other: {sky}, tomorrow" in refused(2, "compare", one, other)
    assert run("compare", one, other, "--sky", "thin").code == 0


def test_the_demo_says_how_long_is_counted_and_who_waits() -> None:
    demo = ROOT / "demo_routes"
    said = run("compare", demo / "coast.toml", demo / "forest.toml").out.replace("\n  ", " ")
    assert "All leave at 08:00 on 20 Nov 2026 and are counted until 09:26, when the last arrives: coast" in said


def test_flat_roads_side_by_side_do_not_win_by_a_map_of_haze(tmp_path: Path) -> None:
    # 59 km apart on one parallel; the western leaves as much later as its sun is late, so that all is the same.
    def road(name: str, east_deg: float, depart: str) -> Path:
        points = [point(45.0 + 0.05 * k, east_deg, "<ele>100</ele>") for k in range(6)]
        (tmp_path / f"{name}.gpx").write_text(gpx(track(*points)), encoding="utf-8")
        said = {"depart": f"2026-01-15 {depart}", "speed": "60km/h", "sky": "clear", "cover": 0}
        path = tmp_path / f"{name}.toml"
        path.write_text(CLOSED.format(route=f"{name}.gpx", **said) + 'air = "5C"\n', encoding="utf-8")
        return path

    west, east = road("west", 7.65, "12:03"), road("east", 8.40, "12:00")
    found = rows(west, east)
    alone = [run("harvest", path, "--json").json["totals"]["energy_wh"] for path in (west, east)]
    assert alone[0] / alone[1] != pytest.approx(1.0, abs=0.005)
    assert found["west"]["energy_wh"] == pytest.approx(found["east"]["energy_wh"], rel=5e-4)
    assert found["west"]["win_prob"] == pytest.approx(0.5, abs=0.1)
