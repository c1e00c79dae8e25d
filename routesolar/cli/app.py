"""The commands, put together."""

import typer

from routesolar.cli import (
    breaks,
    calendar,
    compare,
    demo,
    departures,
    harvest,
    park,
    plan,
    rig,
    route,
    size,
    study,
)
from routesolar.version import SOFTWARE

app = typer.Typer(
    help="How many watt-hours a vehicle's roof panel gathers along a drive, leg by leg.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)
app.command("harvest")(harvest.run)
app.command("departures")(departures.run)
app.command("calendar")(calendar.run)
app.command("compare")(compare.run)
app.command("size")(size.run)
app.command("park")(park.run)
app.command("breaks")(breaks.run)
app.command("study")(study.run)
app.command("plan")(plan.run)
app.command("route")(route.run)
app.command("rig")(rig.run)
app.command("demo")(demo.run)


@app.callback(invoke_without_command=True)
def _top(version: bool = typer.Option(False, "--version", help="Print the version and exit.")) -> None:
    if version:
        typer.echo(SOFTWARE)
        raise typer.Exit
