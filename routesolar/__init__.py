"""Expected solar energy of a vehicle's fixed roof panel along a drive.

The public names below are loaded when first used, so that importing the package costs nothing. Where a notebook
is running, results are told how to show themselves.
"""

import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from routesolar.errors import CoverageError, InputError, OutputError, RoutesolarError, UsageError
    from routesolar.files.canopy_files import CanopySources, Said, canopy_from
    from routesolar.files.gpx import read_route
    from routesolar.files.rigfile import read_rig
    from routesolar.files.terrain import read_terrain
    from routesolar.model.simulation import simulate
    from routesolar.model.sweeping import sweep
    from routesolar.timetable import drive, kinds_of_trees, parse_departure, stretch_values, time_zone_at
    from routesolar.trip.harvest import Harvest, LegResult
    from routesolar.trip.loads import Load
    from routesolar.trip.rig import Alternator, Battery, Controller, Panel, Rig, RoofBox
    from routesolar.trip.route import LegsBy, LegsEvery, Pace, Plan, Route, Stop, Stretch, Waypoint
    from routesolar.trip.segments import Segments
    from routesolar.trip.sky import Sky
    from routesolar.trip.surroundings import Canopy, Terrain, Trees
    from routesolar.trip.sweep import Sweep

_HOMES = {
    "routesolar.errors": "CoverageError InputError OutputError RoutesolarError UsageError",
    "routesolar.files.canopy_files": "CanopySources Said canopy_from",
    "routesolar.files.gpx": "read_route",
    "routesolar.files.rigfile": "read_rig",
    "routesolar.files.terrain": "read_terrain",
    "routesolar.model.simulation": "simulate",
    "routesolar.model.sweeping": "sweep",
    "routesolar.timetable": "drive kinds_of_trees parse_departure stretch_values time_zone_at",
    "routesolar.trip.harvest": "Harvest LegResult",
    "routesolar.trip.loads": "Load",
    "routesolar.trip.rig": "Alternator Battery Controller Panel Rig RoofBox",
    "routesolar.trip.route": "LegsBy LegsEvery Pace Plan Route Stop Stretch Waypoint",
    "routesolar.trip.segments": "Segments",
    "routesolar.trip.sky": "Sky",
    "routesolar.trip.surroundings": "Canopy Terrain Trees",
    "routesolar.trip.sweep": "Sweep",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = [*_HOME_OF]


def __getattr__(name: str) -> Any:
    """Load a public name from its module when it is first asked for."""
    if name not in _HOME_OF:
        raise AttributeError(f"module 'routesolar' has no attribute {name!r}")
    return getattr(import_module(_HOME_OF[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)


if "IPython" in sys.modules:
    import_module("routesolar.report.in_notebooks").register()
