"""The commands as an app. One that is named is loaded alone: its help need not wait for the others."""

from collections.abc import Sequence
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

from routesolar.cli.commands import COMMANDS, VERSION_HELP, help_text
from routesolar.version import SOFTWARE


class _Commands(TyperGroup):
    """All commands; their list looks the same however it is asked for."""

    def get_help(self, ctx: Any) -> str:
        """Return the list of commands."""
        return help_text(ctx.command_path)


def app_for(words: Sequence[str]) -> typer.Typer:
    """Return the app that answers these words: with the one command that they begin with, else with all."""
    app = typer.Typer(
        cls=_Commands,
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode="rich",
    )
    app.callback(invoke_without_command=True)(_top)
    for name in words[:1] if words and words[0] in COMMANDS else COMMANDS:
        app.command(name)(import_module(f"routesolar.cli.{name}").run)
    return app


def _top(version: bool = typer.Option(False, "--version", help=VERSION_HELP)) -> None:
    if version:
        typer.echo(SOFTWARE)
        raise typer.Exit
