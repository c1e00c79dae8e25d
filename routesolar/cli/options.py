"""The options that commands share, each declared once. Imports nothing heavy: `--help` must be quick."""

import functools
import inspect
from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

Text = str | None
RouteFiles = Annotated[
    list[Path] | None,
    typer.Argument(help="GPX files in order of travel, or one trip file (TOML); or a place with --at."),
]
Place = Annotated[Text, typer.Option("--at", help='A place instead of a route: "-41.6,146.5".')]


@dataclass(frozen=True, slots=True, kw_only=True)
class TripOptions:
    """What is said about the drive on the command line; None or empty where nothing is said."""

    depart: Annotated[
        Text,
        typer.Option(help='Departure, local time at the start or with offset: "2026-11-20 07:30".'),
    ] = None
    until: Annotated[
        Text,
        typer.Option(
            help='Stay where the route ends until then: "18:00", "tomorrow 08:00", "2026-11-23 10:00", sunset, '
            'sunrise or "next departure".'
        ),
    ] = None
    panel: Annotated[
        Text, typer.Option(help="A flat roof panel of this rating and no other equipment: 200W.")
    ] = None
    rig: Annotated[Path | None, typer.Option(help="Rig file (TOML); `routesolar rig` writes one.")] = None
    speed: Annotated[
        Text, typer.Option(help="Driving speed with unit: 80km/h, 50mph; or map: its limits and usual speeds.")
    ] = None
    distance: Annotated[
        Text, typer.Option(help="How long the road really is, where the route has few points: 300km.")
    ] = None
    drive_from: Annotated[
        Text, typer.Option(help="Drive in days, each from this clock time on, with --hours-a-day: 9:00.")
    ] = None
    hours_a_day: Annotated[
        Text,
        typer.Option(help="Hours of driving a day; then a night, there or at the last place before: 4."),
    ] = None
    stop: Annotated[
        list[str] | None,
        typer.Option(help='A stop: "42km:45min", "waypoint name:45min" or "end:45min". Repeatable.'),
    ] = None
    legs: Annotated[
        Text,
        typer.Option(
            help="How to split the trip: auto (stops, named waypoints, files), track, waypoint, 50km, 60min."
        ),
    ] = None
    sky: Annotated[
        Text,
        typer.Option(
            help="clear, thin, fair, broken, overcast, rain or typical. Without it, five skies are computed."
        ),
    ] = None
    cloud_okta: Annotated[Text, typer.Option(help="Cloud cover in eighths, 0..8, instead of --sky.")] = None
    weather: Annotated[
        Path | None,
        typer.Option(
            help="Weather file, instead of --sky: our table (README), EPW, TMY3 or hourly satellite data."
        ),
    ] = None
    forecast: Annotated[
        Text,
        typer.Option(
            help="How sure the sky is: known (measured), today, tomorrow (default) or week (2-5 days ahead)."
        ),
    ] = None
    air: Annotated[
        Text,
        typer.Option(
            help="Air temperature at the vehicle: 15C, 59F. Default: usual for the place, season and hour."
        ),
    ] = None
    wind: Annotated[Text, typer.Option(help="Wind speed: 3m/s. Default: 1 m/s.")] = None
    map: Annotated[
        list[str] | None,
        typer.Option(
            help="Map of roads, tunnels, woods, houses (.osm.pbf, .osm, .geojson, .gpkg). Repeatable."
        ),
    ] = None
    canopy: Annotated[
        list[str] | None,
        typer.Option(help="Canopy cover raster (file or URL), percent or fraction. Repeatable, first wins."),
    ] = None
    canopy_cover: Annotated[
        Text, typer.Option(help="Cover beside the road in percent where there is no raster: 60.")
    ] = None
    canopy_height: Annotated[
        Text, typer.Option(help="Tree height: a raster, or metres for all: 18m. Default: 15 m.")
    ] = None
    terrain: Annotated[
        list[str] | None, typer.Option(help="Elevation raster for hills beside the road. Repeatable.")
    ] = None
    surface: Annotated[
        list[str] | None,
        typer.Option(help="Heights above sea with trees and houses, beside --terrain. Repeatable."),
    ] = None
    road_width: Annotated[
        Text,
        typer.Option(help="Opening between the trees seen from above: 12m (default), or fit (to the raster)."),
    ] = None
    drive_side: Annotated[Text, typer.Option(help="Side of the road driven on: left or right (default).")] = (
        None
    )
    season: Annotated[Text, typer.Option(help="auto (default: by date and place), leaf-on or leaf-off.")] = None
    step: Annotated[Text, typer.Option(help="Longest segment: 50m (default, at most 30 s).")] = None
    tz: Annotated[Text, typer.Option(help="Time zone, instead of the one at the route's start.")] = None
    strict: Annotated[bool, typer.Option("--strict", help="Exit 4 when rasters do not cover the route.")] = (
        False
    )
    units: Annotated[Text, typer.Option(help="metric or imperial, for display only.")] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOptions:
    """Which departures to try: clock times where the route starts."""

    date: Annotated[Text, typer.Option(help="The day: 2026-11-20. Default: the day of --depart.")] = None
    from_: Annotated[str, typer.Option("--from", help="First departure.")] = "05:00"
    to: Annotated[str, typer.Option(help="Last departure.")] = "20:00"
    every: Annotated[str, typer.Option(help="Time between departures: 15min, 1h.")] = "15min"


@dataclass(frozen=True, slots=True, kw_only=True)
class BestOptions:
    """What counts as best."""

    best_by: Annotated[
        str,
        typer.Option(
            "--best-by",
            help="What counts: energy (that gets into loads and battery), charge (at the end), or lasting "
            "(loads that go short least, then the lowest charge).",
        ),
    ] = "energy"


@dataclass(frozen=True, slots=True, kw_only=True)
class JsonOption:
    """Text or JSON on the terminal."""

    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON instead of text.")] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputOptions:
    """Where results go besides the terminal."""

    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="Folder for the result files; created if missing.")
    ] = None
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON instead of text.")] = False
    force: Annotated[bool, typer.Option("--force", help="Replace an earlier result in the output folder.")] = (
        False
    )

    def __post_init__(self) -> None:
        """Refuse a folder that cannot be written to before any work is done for it."""
        if self.output is not None:
            from routesolar.files.folder import check_folder

            check_folder(self.output, force=self.force)


def takes(**groups: type) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command the options of dataclasses: `takes(trip=TripOptions)` passes it one `trip` argument."""

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        hints = get_type_hints(command, include_extras=True)
        own = [
            p.replace(annotation=hints[p.name], kind=inspect.Parameter.KEYWORD_ONLY)
            for p in inspect.signature(command).parameters.values()
            if p.name not in groups
        ]
        shared = [parameter for group in groups.values() for parameter in _parameters(group)]

        @functools.wraps(command)
        def wrapper(**values: Any) -> None:
            built = {
                name: group(**{f.name: values.pop(f.name) for f in fields(group)})
                for name, group in groups.items()
            }
            command(**values, **built)

        wrapper.__signature__ = inspect.Signature([*own, *shared])  # type: ignore[attr-defined]
        wrapper.__annotations__ = {p.name: p.annotation for p in (*own, *shared)}
        return wrapper

    return decorate


def _parameters(group: type) -> list[inspect.Parameter]:
    """Return a dataclass' fields as keyword parameters with their typer options."""
    hints = get_type_hints(group, include_extras=True)
    return [
        inspect.Parameter(f.name, inspect.Parameter.KEYWORD_ONLY, default=f.default, annotation=hints[f.name])
        for f in fields(group)
    ]
