"""Expected solar energy of a vehicle's fixed roof panel along a drive.

The public names below are loaded when first used, so that importing the package costs nothing.
"""

from importlib import import_module

TYPE_CHECKING = False  # that of `typing`, whose import costs something
if TYPE_CHECKING:
    from routesolar.decisions.roof import Offer
    from routesolar.errors import CoverageError, InputError, OutputError, RoutesolarError, UsageError
    from routesolar.files.canopy_files import CanopySources, Said, canopy_from
    from routesolar.files.gpx import read_route
    from routesolar.files.rigfile import read_rig
    from routesolar.files.terrain import read_terrain
    from routesolar.files.weather import read_weather
    from routesolar.files.weather_frame import weather_from_frame
    from routesolar.model.simulation import simulate
    from routesolar.model.sweeping import sweep
    from routesolar.studies.running import study
    from routesolar.studies.study import Study, read_study
    from routesolar.timetable import drive, kinds_of_trees, parse_departure, stretch_values, time_zone_at
    from routesolar.timetable.own_route import route_at, route_from_arrays, route_from_frame
    from routesolar.trip.harvest import Harvest, LegResult
    from routesolar.trip.loads import Load
    from routesolar.trip.own_shade import OwnShade
    from routesolar.trip.rig import Alternator, Battery, Controller, Panel, Rig, RoofBox
    from routesolar.trip.route import LegsBy, LegsEvery, Pace, Plan, Route, Stop, Stretch, Waypoint
    from routesolar.trip.segments import Segments
    from routesolar.trip.sky import ClearSkyIndex, Sky, SkySpan, SkyStates, WeatherSeries
    from routesolar.trip.standing import Buildings, StandingCrowns, Woods
    from routesolar.trip.study_summary import DriveGroup, StudySummary
    from routesolar.trip.surroundings import Canopy, Surroundings, Terrain, Trees
    from routesolar.trip.sweep import Sweep
    from routesolar.trips.around import surroundings
    from routesolar.trips.breaking import breaks
    from routesolar.trips.comparing import compare
    from routesolar.trips.deciding import calendar, rank_departures, size
    from routesolar.trips.harvesting import harvest, scene
    from routesolar.trips.parking import park
    from routesolar.trips.sources import Sources
    from routesolar.trips.trip import Trip, read_trip
    from routesolar.trips.writing import write_trip

_HOMES = {
    "routesolar.decisions.roof": "Offer",
    "routesolar.errors": "CoverageError InputError OutputError RoutesolarError UsageError",
    "routesolar.files.canopy_files": "CanopySources Said canopy_from",
    "routesolar.files.gpx": "read_route",
    "routesolar.files.rigfile": "read_rig",
    "routesolar.files.terrain": "read_terrain",
    "routesolar.files.weather": "read_weather",
    "routesolar.files.weather_frame": "weather_from_frame",
    "routesolar.model.simulation": "simulate",
    "routesolar.model.sweeping": "sweep",
    "routesolar.studies.running": "study",
    "routesolar.studies.study": "Study read_study",
    "routesolar.timetable": "drive kinds_of_trees parse_departure stretch_values time_zone_at",
    "routesolar.timetable.own_route": "route_at route_from_arrays route_from_frame",
    "routesolar.trip.harvest": "Harvest LegResult",
    "routesolar.trip.loads": "Load",
    "routesolar.trip.own_shade": "OwnShade",
    "routesolar.trip.rig": "Alternator Battery Controller Panel Rig RoofBox",
    "routesolar.trip.route": "LegsBy LegsEvery Pace Plan Route Stop Stretch Waypoint",
    "routesolar.trip.segments": "Segments",
    "routesolar.trip.sky": "ClearSkyIndex Sky SkySpan SkyStates WeatherSeries",
    "routesolar.trip.standing": "Buildings StandingCrowns Woods",
    "routesolar.trip.study_summary": "DriveGroup StudySummary",
    "routesolar.trip.surroundings": "Canopy Surroundings Terrain Trees",
    "routesolar.trip.sweep": "Sweep",
    "routesolar.trips.around": "surroundings",
    "routesolar.trips.breaking": "breaks",
    "routesolar.trips.comparing": "compare",
    "routesolar.trips.deciding": "calendar rank_departures size",
    "routesolar.trips.harvesting": "harvest scene",
    "routesolar.trips.parking": "park",
    "routesolar.trips.sources": "Sources",
    "routesolar.trips.trip": "Trip read_trip",
    "routesolar.trips.writing": "write_trip",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = [*_HOME_OF]


def __getattr__(name: str) -> object:
    """Load a public name from its module when it is first asked for."""
    if name not in _HOME_OF:
        raise AttributeError(f"module 'routesolar' has no attribute {name!r}")
    return getattr(import_module(_HOME_OF[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
