"""Weather files at the command line: what they say comes out, what they do not say is counted or refused."""

import re
from pathlib import Path

import pvlib
import pytest
from terminal import asked, refused, road, run

HEAD = "time,latitude_deg,longitude_deg,ghi_wm2,air_c"
WHEEL = Path(pvlib.__file__).parent / "data"


def weather(folder: Path, hours: range, air_c: float = 5.0, without: tuple[int, ...] = ()) -> Path:
    """Write hours of one day of Tasmania, all alike, but for those left out."""
    rows = [f"2026-11-20T{hour:02d}:00+11:00,-42,147,600,{air_c}" for hour in hours if hour not in without]
    path = folder / "hours.csv"
    path.write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return path


def test_a_gap_is_counted_in_text_and_json_and_in_decisions(tmp_path: Path) -> None:
    drive = [*asked(road(tmp_path)), "--weather", weather(tmp_path, range(5, 21), without=(12,))]
    said = "hours.csv: 100% of the drive lies in gaps of the sky"
    assert said in run("harvest", *drive, "--json").json["warnings"]
    assert said in " ".join(run("harvest", *drive).err.split())
    half_past_noon = ["--from", "12:15", "--to", "12:45", "--every", "15min"]
    assert said in run("departures", *drive, *half_past_noon, "--json").json["warnings"]


def test_a_file_that_covers_the_drive_says_nothing_and_json_equals_the_file(tmp_path: Path) -> None:
    drive = [*asked(road(tmp_path)), "--weather", weather(tmp_path, range(5, 21))]
    ran = run("harvest", *drive, "--json", "-o", tmp_path / "out")
    assert ran.out == (tmp_path / "out" / "result.json").read_text(encoding="utf-8")
    assert not [text for text in ran.json["warnings"] if "hours.csv" in text]
    assert ran.json["sky"] == "hours.csv"


@pytest.mark.parametrize(
    ("hours", "without", "said"),
    [
        (range(5, 12), (), "covers .* but the drive lasts from"),  # ends as the drive begins
        (range(13, 20), (), "covers .* but the drive lasts from"),
        (range(5, 21), (11, 12, 13, 14, 15), "has no sky data between"),
    ],
)
def test_what_a_file_does_not_cover_is_refused_and_nothing_is_written(
    tmp_path: Path, hours: range, without: tuple[int, ...], said: str
) -> None:
    file = weather(tmp_path, hours, without=without)
    message = refused(3, "harvest", *asked(road(tmp_path)), "--weather", file, "-o", tmp_path / "out")
    assert message.startswith("hours.csv ")
    assert re.search(said, message)
    assert not (tmp_path / "out").exists()


def test_a_typical_year_is_named_so(tmp_path: Path) -> None:
    ran = run("harvest", *asked(road(tmp_path)), "--weather", WHEEL / "723170TYA.CSV", "--json")
    assert any("is a typical year, not a forecast" in text for text in ran.json["warnings"])
    assert any("km from the nearest place in it" in text for text in ran.json["warnings"])


def ran_air(drive: list[object]) -> dict[str, object]:
    return run("harvest", *drive, "--json").json["air"]


def test_air_that_nobody_states_follows_season_place_and_hour_and_is_named(tmp_path: Path) -> None:
    # Hobart's usual January day has 12 to 23 C, its usual July day 5 to 12 C (station normals, from memory).
    drive = [*asked(road(tmp_path)), "--sky", "clear"]
    summer, winter, night = (
        ran_air([*drive, "--depart", when])
        for when in ("2026-01-15 14:00", "2026-07-15 14:00", "2026-01-15 05:00")
    )
    assert summer["source"] == winter["source"] == "usual"
    assert 18 < summer["lowest_c"] < 28 and 6 < winter["lowest_c"] < 16 and 5 < night["lowest_c"] < 14
    said = " ".join(run("harvest", *drive, "--depart", "2026-07-15 14:00").out.split())
    assert "usual for the place, season and hour" in said


def test_the_usual_sky_needs_no_further_package(tmp_path: Path) -> None:
    ran = run("harvest", *asked(road(tmp_path)), "--sky", "typical", "--json")
    assert (ran.code, ran.json["sky"]) == (0, "typical sky")


def test_air_said_beside_a_file_goes_before_the_files(tmp_path: Path) -> None:
    drive = [*asked(road(tmp_path)), "--weather", weather(tmp_path, range(5, 21), air_c=5.0)]
    cold, said_cold, hot = (
        run("harvest", *drive, *more, "--json").json["totals"]["energy_wh"]
        for more in ([], ["--air", "5C"], ["--air", "40C"])
    )
    assert said_cold == pytest.approx(cold)
    # 35 C at -0.35 % per C are 12 % less of the cells' own output.
    assert hot == pytest.approx(cold * (1 - 0.0035 * 35), rel=0.02)
    assert "Air: as in hours.csv" in run("harvest", *drive).out
    assert ran_air(drive)["source"] == "hours.csv"
    assert ran_air([*drive, "--air", "40C"]) == {"source": "said", "lowest_c": 40.0, "highest_c": 40.0}
    assert "Air: 40 °C" in run("harvest", *drive, "--air", "40C").out
