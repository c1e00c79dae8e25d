"""`routesolar route`: what was read, before any sun is computed."""

from routesolar.cli.options import JsonOption, Place, RouteFiles, TripOptions, takes


@takes(trip=TripOptions, out=JsonOption)
def run(
    route: RouteFiles = None,
    at: Place = None,
    *,
    trip: TripOptions,
    out: JsonOption,
) -> None:
    """Show what was read: legs, stops, length and times; computes no energy.

    [bold]Examples[/bold]

    routesolar route my.gpx

    routesolar route my.gpx --depart "2026-11-20 07:30" --speed 70km/h --stop 42km:45min
    """
    import sys
    from dataclasses import replace

    from routesolar.cli.running import progress, warn
    from routesolar.cli.stating import stated
    from routesolar.report.route_text import route_json, route_text
    from routesolar.trips.reporting import units_named
    from routesolar.trips.trip import Trip

    with progress("reading the route"):
        said = stated(route or (), trip, at)
        asked = Trip.of(replace(said, rig=None, sky=None, weather=None))  # none of it moves the vehicle
        segments = asked.drive()
    on_map = asked.on_map
    road, credit, maps = (None, "", ()) if on_map is None else on_map.credited
    text = (
        route_json(asked.route, segments, road, maps, credit)
        if out.json
        else route_text(asked.route, segments, units_named(asked.units), road, credit)
    )
    sys.stdout.write(text)
    warn(segments.warnings)
