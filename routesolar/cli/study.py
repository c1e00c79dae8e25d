"""`routesolar study`: routes x rigs x dates x departures x skies x seasons, to tables."""

from pathlib import Path
from typing import Annotated

import typer


def run(
    file: Annotated[
        Path, typer.Argument(help="Study file (TOML): routes, rigs, dates, departures, skies, seasons.")
    ],
    output: Annotated[
        Path | None,
        typer.Option(
            "-o",
            "--output",
            help="Folder for tables and page; one of this study goes on. Without it drives are only counted.",
        ),
    ] = None,
    workers: Annotated[
        int | None, typer.Option(help="Processes on this computer. Default: one for each processor.", min=1)
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            help="Address of a dask.distributed scheduler whose workers compute: tcp://10.0.0.5:8786."
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the summary as JSON instead of text.")] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Compute anew what the folder holds of a changed study.")
    ] = False,
) -> None:
    r"""Many drives at once: every route with every rig, on every date, at every hour, under every sky.

    Writes a row a drive, a leg and a day as Parquet, a part for each route and date, with the keys of harvest,
    and a page that sums them up. A run that was interrupted goes on where it was. It needs the extra "study",
    and "cluster" for --cluster (README: Many drives).

    [bold]Examples[/bold]

    routesolar study year.toml

    routesolar study year.toml -o outputs/year

    routesolar study year.toml -o outputs/year --cluster tcp://10.0.0.5:8786 --json

    [bold]A study file[/bold]

    routes = \["coast.toml", "forest.toml"]

    rigs = \["van.toml", "400W"]

    dates = {from = "2026-01-01", to = "2026-12-31", every = "10d"}

    departures = {from = "06:00", to = "18:00", every = "30min"}

    skies = \["fair", "overcast"]
    """
    from routesolar.cli.studying import computed, counted, deliver_study
    from routesolar.errors import UsageError

    if workers is not None and cluster is not None:
        raise UsageError("--workers and --cluster contradict each other; a cluster has its own workers")
    if output is None:
        counted(file, json=json)
        return
    deliver_study(computed(file, output, workers, cluster, force=force), output, json=json)
