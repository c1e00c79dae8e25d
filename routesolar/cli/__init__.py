"""The command line: arguments in, exit code out. One file a command.

What this module imports is all that `routesolar --help` loads.
"""

import os
import sys

from routesolar.errors import INTERRUPTED

TYPE_CHECKING = False  # that of `typing`, whose import takes longer than the help
if TYPE_CHECKING:
    from types import TracebackType


def _before_main(kind: type[BaseException], error: BaseException, trace: "TracebackType | None") -> None:
    """End an interruption that comes while this is being loaded without a traceback too."""
    if issubclass(kind, KeyboardInterrupt):
        os._exit(INTERRUPTED)
    sys.__excepthook__(kind, error, trace)


sys.excepthook = _before_main


def main() -> None:
    """Run the command line; deliberate errors become one message on stderr and an exit code."""
    from routesolar.cli.commands import said_at_once

    said = said_at_once(sys.argv)
    if said is not None and _taken(said):
        sys.exit(0 if sys.argv[1:] else 2)
    from routesolar.cli.outermost import run

    sys.exit(run())


def _taken(text: str) -> bool:
    """Write to the terminal, and tell whether it took it; where not, what all commands do is done about it."""
    try:
        print(text, flush=True)  # noqa: T201 - help is for the terminal
    except (OSError, ValueError):  # a reader that has gone, a full disk, a stream that is closed
        return False
    return sys.stdout is not None
