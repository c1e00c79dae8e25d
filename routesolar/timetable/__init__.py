"""From a route and a departure to timed segments."""

from routesolar.timetable.departure import Start, departure_at, parse_departure, time_zone_at
from routesolar.timetable.schedule import Place, drive, leaving_at, places_along, without_noise
from routesolar.timetable.stretches import kinds_of_trees, stretch_values

__all__ = [
    "Place",
    "Start",
    "departure_at",
    "drive",
    "kinds_of_trees",
    "leaving_at",
    "parse_departure",
    "places_along",
    "stretch_values",
    "time_zone_at",
    "without_noise",
]
