"""A planner whose freezer must not fail, through the public commands: a long night between two short drives."""

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest
from terminal import road, run

# However many days: ledgers add up, and an engine suffices on nine in ten of those that it was chosen for.
pytestmark = pytest.mark.usefixtures("few_days")

FREEZER = """
[vehicle]
name = "freezer van"
[[panel]]
rated_w = 300
[battery]
capacity_wh = 1500
start_soc_frac = 0.6
parasitic_w = 3
temperature_c = {battery_c}
[alternator]
charge_w = {charge_w}
[[load]]
name = "freezer"
power_w = {load_w}
"""


def planned(folder: Path, charge_w: float, *, load_w: float = 45.0, battery_c: float = 12.0) -> list[str]:
    """Return what is asked: an hour of driving, 21 hours standing, an hour of driving, in June in Tasmania."""
    rig = folder / "freezer.toml"
    rig.write_text(FREEZER.format(charge_w=charge_w, load_w=load_w, battery_c=battery_c), encoding="utf-8")
    drive = [str(road(folder, length_km=80.0, camp_km=40.0)), "--rig", str(rig), "--sky", "overcast"]
    return [*drive, "--depart", "2026-06-20 15:00", "--speed", "40km/h", "--stop", "Camp:21h", "--step", "400m"]


def harvested(folder: Path, charge_w: float, **rig: float) -> Any:
    ran = run("harvest", *planned(folder, charge_w, **rig), "--json")
    assert ran.code == 0, ran.err
    return ran.json


def test_the_charge_can_be_rebuilt_from_the_json_leg_by_leg(tmp_path: Path) -> None:
    result = harvested(tmp_path, 200.0, load_w=70.0)
    battery = result["battery"]
    assert result["totals"]["shortfall_wh"] > 10 and result["totals"]["idle_wh"] > 60
    for leg in (*result["legs"], result["totals"]):
        came_wh = leg["energy_wh"] + leg["alternator_wh"] + leg["shortfall_wh"]
        went_wh = leg["load_wh"] + leg["idle_wh"] + leg["charge_loss_wh"]
        went_wh += leg["battery_cold_wh"] + leg["battery_full_wh"]
        end_frac = leg["soc_start_frac"] + (came_wh - went_wh) / battery["capacity_wh"]
        assert leg["soc_end_frac"] == pytest.approx(end_frac, abs=1e-6)
    assert [leg["soc_start_frac"] for leg in result["legs"][1:]] == [
        leg["soc_end_frac"] for leg in result["legs"][:-1]
    ]


def test_what_size_asks_of_the_engine_is_enough_when_the_drive_is_run_with_it(tmp_path: Path) -> None:
    ran = run("size", *planned(tmp_path, 30.0), "--rated", "300", "--json")
    assert ran.code == 0, ran.err
    (row,) = ran.json["rows"]
    before = harvested(tmp_path, 30.0)
    assert row["load_share_frac"] == before["battery"]["load_share_frac"]
    assert row["shortfall_wh"] == pytest.approx(before["totals"]["shortfall_wh"], rel=1e-9)
    assert before["battery"]["short_prob"] > 0.5 and row["alternator_needed_poor_w"] > 30
    given = harvested(tmp_path, row["alternator_needed_poor_w"])
    assert given["battery"]["short_prob"] <= 0.1
    assert given["battery"]["shortfall_poor_wh"] == 0.0
    assert given["totals"]["alternator_wh"] == pytest.approx(row["alternator_needed_poor_wh"], rel=1e-6)
    assert harvested(tmp_path, 0.98 * row["alternator_needed_poor_w"])["battery"]["short_prob"] > 0.1


def test_a_battery_in_frost_is_said_to_be_cold_in_words_losses_and_a_warning(tmp_path: Path) -> None:
    asked = planned(tmp_path, 200.0, load_w=1.0, battery_c=-6.0)
    result = run("harvest", *asked, "--json").json
    losses = result["totals"]["losses"]
    assert losses["battery_cold"] > 10 and losses["battery_full"] == 0
    assert result["totals"]["battery_wh"] == pytest.approx(
        result["totals"]["energy_wh"] - losses["battery_cold"]
    )
    assert any("not charged below 0 C" in warning for warning in result["warnings"])
    words = " ".join(run("harvest", *asked).out.split())
    assert "It is too cold to charge for 23 h" in words and "battery too cold" in words
    assert "room" not in words and "of which loads and battery take" in words


def test_an_overnight_trip_has_its_days_in_text_json_and_csv_and_every_load_its_chance(tmp_path: Path) -> None:
    asked = planned(tmp_path, 30.0, load_w=70.0)
    rig = tmp_path / "freezer.toml"
    lamp = '[[load]]\nname = "lamp"\npower_w = 10\nkeep = 2\nreserve_soc_frac = 0.4\n'
    rig.write_text(rig.read_text(encoding="utf-8") + lamp, encoding="utf-8")
    ran = run("harvest", *asked, "-o", tmp_path / "out")
    assert ran.code == 0, ran.err
    assert re.search(r"^Sat 20 Jun +\d", ran.out, re.MULTILINE) and "nine trips in ten" in ran.out
    said = " ".join(ran.out.split())
    assert re.search(r"^lamp +(under )?\d+ % +\S+ 2[01] Jun ", ran.out, re.MULTILINE)
    assert "Chances are counted in trips." in said and "worst day in ten" not in said
    result = json.loads((tmp_path / "out" / "result.json").read_text(encoding="utf-8"))
    days = result["days"]
    with (tmp_path / "out" / "days.csv").open(encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    assert [(day["date"], day["weekday"]) for day in days] == [
        ("2026-06-20", "Saturday"),
        ("2026-06-21", "Sunday"),
    ]
    assert [list(row) for row in rows] == [list(day) for day in days]
    for key in ("energy_wh", "load_wh", "shortfall_wh", "alternator_wh"):
        assert sum(day[key] for day in days) == pytest.approx(result["totals"][key], abs=1e-9)
    assert days[0]["dawn"] is None and days[0]["dusk"].startswith("2026-06-20T16:")
    freezer, other = result["battery"]["loads"]
    assert (freezer["name"], other["name"], other["keep"]) == ("freezer", "lamp", 2)
    assert freezer["shortfall_wh"] + other["shortfall_wh"] == pytest.approx(result["totals"]["shortfall_wh"])
    assert other["lasts_prob"] <= freezer["lasts_prob"]
    assert result["hours"][-1]["lasts_prob"] == days[-1]["lasts_prob"] == pytest.approx(other["lasts_prob"])
    assert result["battery"]["short_prob"] == pytest.approx(1 - other["lasts_prob"])
