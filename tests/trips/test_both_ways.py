"""Every question of README's table gives the same figures from Python as from the command line, bit for bit."""

import json
import re
import shlex
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from terminal import ROOT, run

from routesolar.decisions.roof import Offer
from routesolar.files.decision_exports import decision_json
from routesolar.files.results import result_json
from routesolar.files.stated import Stated, overridden
from routesolar.files.tripfile import read_trip_file
from routesolar.report.route_text import route_json
from routesolar.trips.comparing import compare
from routesolar.trips.deciding import ClockRange, calendar, rank_departures, size
from routesolar.trips.harvesting import harvest_trip
from routesolar.trips.parking import park
from routesolar.trips.presenting import decision_report, harvest_report, units_named
from routesolar.trips.trip import Trip

DEMO = Path("demo_routes")
COMMANDS = re.findall(r"\| `routesolar ([^`]+)` \|", (ROOT / "README.md").read_text(encoding="utf-8"))


def trip(name: str, **said: Any) -> Any:
    return Trip.of(overridden(read_trip_file(DEMO / name), Stated(**said)))


def decided(result: Any) -> str:
    return decision_json(decision_report(result, units_named("metric")))


def harvested(trip: Any) -> str:
    return result_json(harvest_report(harvest_trip(trip)))


def asked_in_python(command: str) -> str:
    """Return the JSON of the call that asks what a command asks."""
    match command.split()[0]:
        case "harvest" if "overcast" in command:
            return harvested(trip("coast.toml", sky="overcast"))
        case "harvest":
            return harvested(trip("transit_day.toml"))
        case "departures":
            return decided(rank_departures(trip("coast.toml"), clock=ClockRange(every_s=1800.0)))
        case "calendar":
            year = date.today().year
            return decided(calendar(trip("coast.toml"), year, ClockRange(every_s=3600.0)))
        case "compare":
            return decided(compare([trip("coast.toml"), trip("forest.toml")]))
        case "size" if "--roof" in command:
            offers = [
                Offer(rated_w=200.0, length_m=1.58, width_m=0.7),
                Offer(rated_w=100.0, length_m=1.05, width_m=0.55),
            ]
            return decided(size(trip("transit_day.toml"), roof_m=(2.6, 1.4), offers=offers))
        case "size":
            return decided(size(trip("transit_day.toml"), [50, 100, 200, 400]))
        case "park":
            near = trip("forest.toml", canopy_height=str(DEMO / "height_site_a.tif"))
            return decided(park(near, "sampling site A", within_m=100.0))
        case "route":
            asked = trip("coast.toml")
            return route_json(asked.route, asked.drive())
    raise AssertionError(f"no call is known for {command}")


@pytest.mark.compiled
@pytest.mark.parametrize("command", COMMANDS)
def test_python_gives_what_the_command_gives(command: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    ran = run(*shlex.split(command), "--json")
    assert ran.code == 0, ran.err
    assert json.loads(asked_in_python(command)) == ran.json
