"""What the command line and the trip file say together, understood: the parts every command starts from."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.cli.crowns import with_crowns
from routesolar.cli.options import TripOptions
from routesolar.errors import CoverageError, UsageError
from routesolar.files import values, wording
from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.files.climate import climate_file, typical_weather
from routesolar.files.gpx import read_route
from routesolar.files.rigfile import panel_only_rig, read_rig
from routesolar.files.terrain import read_ground_elevation, read_terrain
from routesolar.files.tripfile import TripFile, read_trip
from routesolar.files.weather import read_weather
from routesolar.files.wording import ALTERNATIVES, FIT, SKY_OPTIONS, check_text
from routesolar.model.road_width import fit_road
from routesolar.timetable import drive, kinds_of_trees, parse_departure, stretch_values, time_zone_at
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import MapPicture
from routesolar.trip.rig import Rig
from routesolar.trip.route import Plan, Route
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, WeatherSeries
from routesolar.trip.surroundings import Canopy, Terrain

ROAD_WIDTH_M = 12.0
FIVE_SKIES = ("broken", "clear", "thin", "overcast", "rain")
LEAST_KNOWN_FRAC = 0.999  # with --strict, a smaller known share is an error


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One trip as asked for. `said` is the command line's word, else the trip file's."""

    route: Route
    plan: Plan
    said: TripOptions
    trip: TripFile
    time_zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Trees and terrain along the segments, and the picture of the trees for maps."""

    canopy: Canopy
    terrain: Terrain
    picture: MapPicture | None


def understand(paths: Sequence[Path], options: TripOptions) -> Request:
    """Return the request: a trip file or GPX files, and the options given beside it.

    Raises:
        UsageError: options that clash or lack a unit. InputError: a file cannot be used.
    """
    trip = _trip_of(paths)
    said = _merged(options, trip)
    _check(said)
    if _given(options) & set(SKY_OPTIONS):
        trip = replace(trip, sky_spans=())
    route = _with_heights(read_route(trip.routes), said)
    zone = said.tz or time_zone_at(float(route.latitude_deg[0]), float(route.longitude_deg[0]))[0]
    return Request(route=route, plan=_plan(said, trip), said=said, trip=trip, time_zone=zone)


def timed(request: Request, departures_utc_s: FloatArray | None = None) -> Segments:
    """Return the timed drive, for the departure asked for where none are given."""
    if departures_utc_s is not None or request.said.depart is None:
        return drive(request.route, departures_utc_s, plan=request.plan)
    departure = parse_departure(request.said.depart, request.time_zone)
    segments = drive(request.route, np.array([departure.utc_s]), plan=request.plan)
    return replace(segments, notes=(*departure.notes, *segments.notes))


def rig_of(request: Request) -> Rig:
    """Return the rig: a file's, or one flat panel."""
    said = request.said
    if said.rig is not None:
        return read_rig(said.rig)
    if said.panel is None:
        raise UsageError(
            "which panel is on the roof? give --panel 200W, or a rig file with --rig van.toml "
            "(routesolar rig writes one)"
        )
    return panel_only_rig(values.power_w(said.panel))


def skies_of(request: Request) -> tuple[Sky, ...]:
    """Return the skies to compute, the leading one first: one if named, else five."""
    said = request.said
    names: tuple[str, ...] = FIVE_SKIES
    if said.cloud_okta is not None:
        names = (f"okta {said.cloud_okta}",)
    elif said.sky is not None:
        names = (said.sky,)
    weather = _weather(request)
    if weather is not None and tells_light(weather):
        names = (weather.name,)
    usual = "climate" if weather is not None and weather.typical else "tomorrow"
    air: dict[str, Any] = {}
    if said.air is not None:
        air = {"air_c": values.temperature_c(said.air), "air_by_height": False}
    wind_mps = 1.0 if said.wind is None else values.wind_mps(said.wind)
    return tuple(
        Sky(
            name=name,
            wind_mps=wind_mps,
            forecast=said.forecast or usual,
            spans=request.trip.sky_spans,
            weather=weather,
            **air,
        )
        for name in names
    )


def _weather(request: Request) -> WeatherSeries | None:
    """Return the weather of a file, or the usual weather of month and place where the sky is "typical".

    Air and wind said beside a file go before its own.
    """
    said = request.said
    if said.sky == "typical":
        return typical_weather(request.route.latitude_deg, request.route.longitude_deg, climate_file())
    if said.weather is None:
        return None
    weather = read_weather(said.weather)
    silent = np.full_like(weather.air_c, np.nan)
    if said.air is not None:
        weather = replace(weather, air_c=silent)
    return weather if said.wind is None else replace(weather, wind_mps=silent, wind_from_deg=silent)


def tells_light(weather: WeatherSeries) -> bool:
    """Tell whether a weather file says anything of clouds or irradiance, so that no sky has to be named."""
    light = (weather.cloud_frac, weather.ghi_wm2, weather.dni_wm2, weather.dhi_wm2)
    return any(bool(np.isfinite(values).any()) for values in light)


def surroundings_of(request: Request, segments: Segments, rig: Rig) -> Surroundings:
    """Return trees and terrain along the segments, read from what was given.

    Raises:
        CoverageError: with --strict, where the data does not cover the route.
    """
    latitude, longitude = segments.middle_latitude_deg, segments.middle_longitude_deg
    stretches = stretch_values(segments, request.plan.surroundings)
    said = Said(
        cover_frac=stretches.canopy_cover_frac,
        height_m=stretches.canopy_height_m,
        road_width_m=stretches.road_width_m,
        lane_offset_m=stretches.lane_offset_m,
    )
    read = canopy_from(latitude, longitude, _canopy_sources(request), said)
    trees, kind = kinds_of_trees(segments, request.plan.surroundings, request.trip.trees)
    canopy = _with_fitted_road(request, segments, replace(read.canopy, trees=trees, kind=kind), said)
    canopy = with_crowns(canopy, segments, request.trip, request.said.season or "leaf-on", stretches)
    terrain = Terrain.flat(segments.count)
    if request.said.terrain:
        height_m = segments.middle_elevation_m if segments.has_elevation else np.full(segments.count, np.nan)
        terrain = read_terrain(request.said.terrain, latitude, longitude, height_m, rig.roof_height_m)
    if request.said.strict and min(canopy.data_frac, terrain.data_frac) < LEAST_KNOWN_FRAC:
        raise CoverageError(
            f"--strict: the canopy is known on {canopy.data_frac:.1%} and the terrain on "
            f"{terrain.data_frac:.1%} of the route; give rasters that cover it, or leave --strict out"
        )
    return Surroundings(canopy=canopy, terrain=terrain, picture=read.picture)


def pace_words(request: Request) -> str:
    """Return where the speeds came from."""
    if request.said.speed is None:
        return "as in the trip file" if request.plan.paces else "as recorded"
    return f"{request.said.speed}{', other paces by the trip file' * bool(request.plan.paces)}"


def _with_heights(route: Route, said: TripOptions) -> Route:
    """Return the route with the terrain raster's heights where its files have none at all."""
    if not said.terrain or not np.isnan(route.elevation_m).all():
        return route
    height_m = read_ground_elevation(said.terrain, route.latitude_deg, route.longitude_deg)
    note = "the route has no elevations: heights and grades are the terrain raster's"
    return replace(route, elevation_m=height_m, warnings=(*route.warnings, note))


def _trip_of(paths: Sequence[Path]) -> TripFile:
    """Return the trip file, or one made of the GPX files."""
    tomls = [path for path in paths if path.suffix.lower() == ".toml"]
    if not tomls:
        return TripFile(routes=tuple(paths), options={})
    if len(paths) > 1:
        raise UsageError(f"{tomls[0]} is a trip file and names its own routes; give it alone")
    return read_trip(tomls[0])


def _merged(options: TripOptions, trip: TripFile) -> TripOptions:
    """Return the options with what only the trip file says filled in; the command line wins.

    Of two ways to say the same thing, such as --panel and --rig, a way on the command line drops the other
    way in the file; a sky there also drops the file's skies for some hours of the day.
    """
    given = _given(options)
    dropped = {name for group in ALTERNATIVES if given & set(group) for name in group}
    known = {f.name for f in fields(options)}
    filled = {k: v for k, v in trip.options.items() if k in known and k not in given | dropped}
    return replace(options, **filled)


def _given(options: TripOptions) -> set[str]:
    return {f.name for f in fields(options) if getattr(options, f.name) not in (None, [], False)}


def _check(said: TripOptions) -> None:
    """Refuse options that say two things about one, and values that cannot be read."""
    for group in ALTERNATIVES:
        both = [f"--{name.replace('_', '-')}" for name in group if getattr(said, name)]
        if len(both) > 1:
            raise UsageError(f"{' and '.join(both)} contradict each other; give one of them")
    for name in sorted(_given(said)):
        value = getattr(said, name)
        if isinstance(value, str):
            check_text(name, value)


def _plan(said: TripOptions, trip: TripFile) -> Plan:
    return Plan(
        speed_mps=None if said.speed is None else wording.speed_mps(said.speed),
        paces=trip.paces,
        stops=(*trip.stops, *(wording.stop_of(text) for text in said.stop or ())),
        stretches=trip.stretches,
        legs=wording.legs_by(said.legs or "auto"),
        step_m=50.0 if said.step is None else wording.step_m(said.step),
        time_zone=said.tz,
    )


def _canopy_sources(request: Request) -> CanopySources:
    said = request.said
    height, cover = said.canopy_height, said.canopy_cover
    metres = None if height is None else wording.tree_height_m(height)
    return CanopySources(
        cover=tuple(said.canopy or ()),
        height=() if height is None or metres is not None else (height,),
        cover_frac=np.nan if cover is None else values.percent_frac(cover, "canopy-cover"),
        height_m=15.0 if metres is None else metres,
        road_width_m=ROAD_WIDTH_M if said.road_width in (None, FIT) else wording.road_width_m(said.road_width),
        trees=request.trip.trees,
        drive_side=said.drive_side or "right",
    )


def _with_fitted_road(request: Request, segments: Segments, canopy: Canopy, said: Said) -> Canopy:
    """Return the canopy with the opening its raster shows, if that was asked for; else offer it in a warning.

    Raises:
        UsageError: a fit was asked for and the raster does not bear one.
    """
    asked = request.said.road_width
    otherwise = np.array([trees.road_width_between != "opening" for trees in canopy.trees])[canopy.kind]
    if (otherwise & np.isnan(said.road_width_m)).any():
        if asked == FIT:
            raise UsageError(
                "--road-width fit finds the opening as seen from above; leave road_width_between out of the "
                "trip file, or give the width between trunks or crowns beside it, as road_width_m = 12"
            )
        return canopy
    fit = fit_road(segments, canopy) if asked in (None, FIT) else None
    if asked == FIT and fit is None:
        raise UsageError(
            "--road-width fit needs a cover raster of 30 m or finer and at least 5 km of wooded road whose "
            "pixels some opening explains; give the width instead, as 12m"
        )
    if fit is None:
        return canopy
    seen = (
        f"a road opening of {fit.width_m:.1f} m (+- {fit.doubt_m:.1f} m, {fit.road_km:.0f} km of wooded road)"
    )
    if asked is None:
        if abs(fit.width_m - ROAD_WIDTH_M) < max(2 * fit.doubt_m, 1.0):
            return canopy
        note = f"the cover raster shows {seen}, not the {ROAD_WIDTH_M:g} m assumed; --road-width fit takes it"
        return replace(canopy, warnings=(*canopy.warnings, note))
    widths = np.where(np.isnan(said.road_width_m), fit.width_m, canopy.road_width_m)
    return replace(canopy, road_width_m=widths, warnings=(*canopy.warnings, f"fitted to the raster: {seen}"))
