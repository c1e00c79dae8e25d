"""Every command of README's table answers, with the same figures from Python, bit for bit."""

import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
from terminal import ROOT, run

import routesolar as rs
from routesolar.files.decision_exports import decision_json
from routesolar.files.results import result_json
from routesolar.report.route_text import route_json
from routesolar.trips.presenting import decision_report
from routesolar.trips.reporting import harvest_report, units_named

DEMO = Path("demo_routes")
COMMANDS = re.findall(r"\| `routesolar ([^`]+)` \|", (ROOT / "README.md").read_text(encoding="utf-8"))


def decided(result: Any) -> str:
    return decision_json(decision_report(result, units_named("metric")))


def harvested(trip: rs.Trip) -> str:
    drive = trip.drive()
    return result_json(
        harvest_report(rs.harvest(rs.scene(drive, trip.rig, rs.surroundings(trip, drive)), trip.skies))
    )


def asked_in_python(command: str) -> str:
    """Return the JSON of the call that asks what a command asks."""
    coast, forest, long_day = (
        rs.read_trip(DEMO / f"{name}.toml") for name in ("coast", "forest", "transit_day")
    )
    match command.split()[0]:
        case "harvest" if "overcast" in command:
            return harvested(coast.with_(sky="overcast"))
        case "harvest" if "camp.toml" in command or "frost.toml" in command:
            return harvested(rs.read_trip(command.split()[1]))
        case "harvest" if "--at" in command:
            stay = {"depart": "2026-11-20 16:00", "until": "2026-11-22 10:00", "panel": "200W", "sky": "fair"}
            return harvested(rs.Trip.at(-41.6, 146.5, **stay))
        case "harvest":
            return harvested(long_day)
        case "departures" if "--until" in command:
            hours = {"first": "06:00", "last": "14:00", "every": "4h"}
            return decided(rs.rank_departures(coast.with_(until="18:00"), **hours, best_by="charge"))
        case "departures":
            return decided(rs.rank_departures(coast, every="30min"))
        case "calendar":
            return decided(rs.calendar(coast, every="1h"))
        case "compare":
            return decided(rs.compare([coast, forest]))
        case "size" if "--roof" in command:
            offers = [
                rs.Offer(rated_w=200.0, length_m=1.58, width_m=0.7),
                rs.Offer(rated_w=100.0, length_m=1.05, width_m=0.55),
            ]
            return decided(rs.size(coast, roof_m=(2.6, 1.4), offers=offers))
        case "size" if "--capacity" in command:
            sizes = rs.size(long_day, [220.0], capacity_wh=[600.0, 1200.0], charge_w=[0.0, 100.0])
            return decided(sizes)
        case "size":
            return decided(rs.size(long_day, [50, 100, 200, 400]))
        case "park":
            near = forest.with_(canopy_height=DEMO / "height_site_a.tif")
            return decided(rs.park(near, "sampling site A", within="100m"))
        case "breaks" if "--map" in command:
            mapped = coast.with_(map=[DEMO / "land.osm"])
            return decided(rs.breaks(mapped, 45, between=("08:00", "12:00"), every="40km"))
        case "breaks":
            return decided(rs.breaks(coast, 45, between=("08:00", "12:00"), every="20km"))
        case "route" if "--distance" in command:
            slow = forest.with_(distance="60km", drive_from="9:00", hours_a_day=1)
            return route_json(slow.route, slow.drive())
        case "route":
            return route_json(coast.route, coast.drive())
    raise AssertionError(f"no call is known for {command}")


def test_the_table_of_questions_has_commands() -> None:
    assert len(COMMANDS) >= 8


@pytest.mark.compiled
@pytest.mark.parametrize("command", COMMANDS)
def test_python_gives_what_the_command_gives(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    ran = run(*shlex.split(command), "--json")
    assert ran.code == 0, ran.err
    assert json.loads(asked_in_python(command)) == ran.json
