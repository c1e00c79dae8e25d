"""The parts of a trip from what is said of it: files read, words that stand for data replaced by these."""

from dataclasses import replace

import numpy as np

from routesolar.errors import UsageError
from routesolar.files.climate import typical_weather
from routesolar.files.gpx import read_route
from routesolar.files.rigfile import read_rig
from routesolar.files.stated import Stated
from routesolar.files.terrain import read_ground_elevation
from routesolar.files.weather import read_weather
from routesolar.files.wording import FIT, TYPICAL
from routesolar.timetable.stops import END
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.rig import Rig
from routesolar.trip.route import LegsBy, Plan, Route, Stop
from routesolar.trip.sky import Sky, WeatherSeries
from routesolar.trip.surroundings import Trees
from routesolar.trips.sources import Sources

FIVE_SKIES = ("broken", "clear", "thin", "overcast", "rain")


def route_of(stated: Stated) -> Route:
    """Return the route stated; InputError where a file cannot be used."""
    route = stated.route or read_route(stated.routes)
    return _with_heights(route, stated.terrain)


def rig_of(stated: Stated) -> Rig | None:
    """Return the rig stated, None where nothing is said of it; InputError where its file cannot be used."""
    return stated.rig if stated.rig is None or isinstance(stated.rig, Rig) else read_rig(stated.rig)


def _with_heights(route: Route, terrain: tuple[str, ...]) -> Route:
    """Return the route with the terrain raster's heights where its files have none at all."""
    if not terrain or not np.isnan(route.elevation_m).all():
        return route
    height_m = read_ground_elevation(terrain, route.latitude_deg, route.longitude_deg)
    note = "the route has no elevations: heights and grades are the terrain raster's"
    return replace(route, elevation_m=height_m, warnings=(*route.warnings, note))


def plan_of(stated: Stated, road: MappedRoad | None = None) -> Plan:
    """Return how the route is to be driven; `road` is what a map knows of the road.

    Raises:
        UsageError: speeds are to be a map's, and there is none.
    """
    by_map = isinstance(stated.speed_mps, str)
    if by_map and road is None:
        raise UsageError(
            "--speed map takes limits and usual speeds from a map; give it with --map region.osm.pbf"
        )
    return Plan(
        speed_mps=None if isinstance(stated.speed_mps, str) else stated.speed_mps,
        road=road,
        speed_by_map=by_map,
        paces=stated.paces,
        stops=_stops(stated),
        stretches=stated.stretches,
        legs=stated.legs or LegsBy.AUTO,
        step_m=50.0 if stated.step_m is None else stated.step_m,
        time_zone=stated.time_zone,
        distance_m=stated.distance_m,
        drive_from_s=stated.drive_from_s,
        hours_a_day=stated.hours_a_day,
    )


def _stops(stated: Stated) -> tuple[Stop, ...]:
    """Return the stops, the last until when one stays at the end; that takes the place of another such time."""
    if stated.until is None:
        return stated.stops
    others = [stop for stop in stated.stops if stop.at.strip().casefold() != END or stop.until is None]
    return (*others, Stop(at=END, until=stated.until))


def skies_of(stated: Stated, route: Route) -> tuple[Sky, ...]:
    """Return the skies to compute, the leading one first: one if named, else five."""
    if stated.skies:
        return stated.skies
    names = FIVE_SKIES if stated.sky is None else (stated.sky,)
    weather = _weather(stated, route)
    if weather is not None and weather.tells_light:
        names = (weather.name,)
    usual = "climate" if weather is not None and weather.typical else "tomorrow"
    return tuple(
        Sky(
            name=name,
            air_c=stated.air_c,
            wind_mps=1.0 if stated.wind_mps is None else stated.wind_mps,
            forecast=stated.forecast or usual,
            spans=stated.sky_spans,
            weather=weather,
        )
        for name in names
    )


def _weather(stated: Stated, route: Route) -> WeatherSeries | None:
    """Return the weather of a file, or the usual weather of month and place where the sky is "typical".

    Air and wind said beside a file override its own.
    """
    if stated.sky == TYPICAL:
        return typical_weather(route.latitude_deg, route.longitude_deg)
    if stated.weather is None:
        return None
    weather = stated.weather
    if not isinstance(weather, WeatherSeries):
        weather = read_weather(weather)
    silent = np.full_like(weather.air_c, np.nan)
    if stated.air_c is not None:
        weather = replace(weather, air_c=silent)
    return weather if stated.wind_mps is None else replace(weather, wind_mps=silent, wind_from_deg=silent)


def sources_of(stated: Stated) -> Sources:
    """Return where trees and hills are read from, and what is said of them."""
    height, width = stated.canopy_height, stated.road_width
    return Sources(
        map=stated.map,
        canopy=stated.canopy,
        canopy_cover_frac=stated.canopy_cover_frac,
        canopy_heights=(height,) if isinstance(height, str) else (),
        canopy_height_m=None if isinstance(height, str) else height,
        road_width_m=None if isinstance(width, str) else width,
        fit_road_width=width == FIT,
        trees=stated.trees or Trees(),
        leaf_type=stated.leaf_type,
        crown_transmittance_frac=stated.crown_transmittance_frac,
        season=stated.season or "auto",
        drive_side=stated.drive_side or "right",
        terrain=stated.terrain,
        surface=stated.surface,
        strict=stated.strict,
    )
