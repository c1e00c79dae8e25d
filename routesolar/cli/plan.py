"""`routesolar plan`: a page on this computer to plan in."""

from pathlib import Path
from typing import Annotated

import typer


def run(
    folder: Annotated[
        Path | None,
        typer.Option(
            help="Folder for everything of this session; one with saved trips opens them again. Default: a new "
            "folder plan_DATE here."
        ),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Print the address instead of opening the browser.")
    ] = False,
) -> None:
    r"""A page in your browser to plan in: drop a GPX track, say the panel, see watts on a map.

    It is served on this computer alone, and ends ten minutes after it is closed, or with Ctrl-C. It needs the
    extra "page": pip install ".\[page]" in your copy of routesolar.

    [bold]Examples[/bold]

    routesolar plan

    routesolar plan --folder summer
    """
    from routesolar.cli.outermost import look_for_waste_again
    from routesolar.cli.running import tell
    from routesolar.errors import UsageError

    try:
        from routesolar.plan.serving import Session
    except ImportError as error:
        if error.name not in ("starlette", "uvicorn", "anyio", "h11"):
            raise
        raise UsageError(
            f"the page needs {error.name}, which is not installed; in your copy of routesolar install it with: "
            'pip install ".[page]"'
        ) from None
    from routesolar.plan.folder import Folder, fresh_folder
    from routesolar.trip.names import printable

    session = Session(Folder(folder or fresh_folder(Path.cwd())))
    tell(f"everything of this session lies in {printable(str(session.folder.root))}")

    def started() -> None:
        if no_browser:
            typer.echo(session.address)
            return
        import webbrowser

        tell("the page opens in your browser; it ends ten minutes after it is closed, or with Ctrl-C")
        if not webbrowser.open(session.address):
            typer.echo(session.address)

    look_for_waste_again()
    session.run(started)
