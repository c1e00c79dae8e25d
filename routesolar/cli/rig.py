"""`routesolar rig`: write a commented rig file to start from, or check one."""

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from routesolar.trip.rig import Rig


def run(
    path: Annotated[
        Path | None,
        typer.Argument(help="A rig file to check, or a new name to write one; leave it out to print one."),
    ] = None,
) -> None:
    """Write a commented rig file, or check one.

    [bold]Examples[/bold]

    routesolar rig                (print a commented rig file)

    routesolar rig van.toml       (write it; or check it, if the file is there)
    """
    from routesolar.files.folder import write_file
    from routesolar.files.rigfile import commented_rig, read_rig
    from routesolar.trip.names import printable

    if path is None:
        typer.echo(commented_rig(), nl=False)
        return
    name = printable(str(path))
    if _is_there(path):
        rig = read_rig(path)
        typer.echo(f"{name}: no errors found")
        for line in _described(rig):
            typer.echo(f"  {printable(line)}")
    else:
        write_file(path, commented_rig().encode())
        typer.echo(f"written: {name}; change what differs on your vehicle, then check it with the same command")


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # a name that no file can have; writing it says so
        return False


def _described(rig: "Rig") -> Iterator[str]:
    """Yield lines of what was understood, so that a slip of the pen shows."""
    for panel in rig.panels:
        yield f"panel {panel.name}: {panel.rated_w:g} W, tilt {panel.tilt_deg:g} deg, {panel.mounting}"
    yield f"{rig.rated_w:g} W in total; the controller accepts {_watts(rig.input_limit_w)}"
    if rig.battery is not None:
        yield f"battery {rig.battery.capacity_wh:g} Wh, {rig.battery.kind}"
    if rig.alternator is not None:
        yield f"alternator {rig.alternator.delivered_w:g} W while driving"
    for load in rig.loads:
        yield f"load {load.name}: {load.power_w:g} W, {load.when}"


def _watts(limit_w: float) -> str:
    return "any power" if limit_w == float("inf") else f"at most {limit_w:g} W"
