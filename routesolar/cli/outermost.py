"""Around every command: how it ends becomes an exit code and one message."""

import atexit
import errno
import gc
import os
import signal
import sys
from contextlib import suppress
from pathlib import Path
from typing import NoReturn

from routesolar.errors import INTERRUPTED, TERMINATED, RoutesolarError

_OBJECTS_A_ROUND = (
    1_000_000  # new ones before Python looks for rings of them that nobody needs; a drive leaves six
)
_USUAL_ROUNDS = gc.get_threshold()

_asked_to_end: list[type[BaseException]] = []  # by whom, of this command


class _Terminated(BaseException):
    """The system asks us to end."""


def run() -> int:
    """Run what was asked for and return its exit code; deliberate errors become one message on stderr."""
    try:
        _asked_to_end.clear()
        signal.signal(signal.SIGTERM, _end)
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:  # a background job ignores it
            signal.signal(signal.SIGINT, _end)
        _spare_what_lasts()
        _keep_to_ourselves()
        return _exit_code()
    except (KeyboardInterrupt, _Terminated) as end:
        _tell("interrupted; no file is left half-written")
        return INTERRUPTED if isinstance(end, KeyboardInterrupt) else TERMINATED


def _keep_to_ourselves() -> None:
    """Let nobody but us speak to the user: libraries warn of paths and lines that mean nothing to them.

    Where a stream is closed, what we say goes nowhere instead of into the next file that is opened.
    """
    import logging
    import warnings

    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115 - until the end
    warnings.showwarning = lambda *_, **__: None
    logging.getLogger().addHandler(logging.NullHandler())


def _spare_what_lasts() -> None:
    """Let neither Python nor a library go over and over what lasts as long as the command.

    Libraries make a million objects that all stay: looking for waste among them, again and again and once more
    at the end, took a seventh of a short command. Products of matrices here are small: one thread does them,
    and the others would wait for more in a busy loop.
    """
    gc.set_threshold(_OBJECTS_A_ROUND)
    atexit.register(gc.freeze)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def look_for_waste_again() -> None:
    """Look for waste as Python does by itself, for a command that stays; what is loaded by now is left out."""
    gc.freeze()
    gc.set_threshold(*_USUAL_ROUNDS)


def _end(number: int, frame: object) -> NoReturn:
    """Raise what ends the command, and note it: a library's callback may swallow it, or wrap it."""
    _asked_to_end.append(KeyboardInterrupt if number == signal.SIGINT else _Terminated)
    raise _asked_to_end[0]


def _exit_code() -> int:
    import typer

    from routesolar.cli.app import app_for

    try:
        _print_anything()
        code = app_for(sys.argv[1:])(standalone_mode=False)
        if code == INTERRUPTED:  # typer hands an interrupt on as this number
            raise KeyboardInterrupt
        sys.stdout.flush()
    except RoutesolarError as error:
        _tell(str(error))
        code = error.exit_code
    except typer.Abort:
        raise KeyboardInterrupt from None
    except (BrokenPipeError, SystemExit):  # typer leaves by itself where the pipe is broken, and only there
        code = _reader_left()
    except OSError as error:
        code = _no_room(error)
    except Exception as error:
        if _asked_to_end:  # within compiled code it became another error
            raise _asked_to_end[0] from None
        code = _refused_or_fault(error)
    return code if isinstance(code, int) else 0


def _refused_or_fault(error: Exception) -> int:
    """Return 2 for an option the parser refused; own up to anything else, without a traceback."""
    show = getattr(error, "show", None)
    if show is not None:  # the parser's own errors show themselves, with the usage
        show()
        return 2
    _tell(f"this is a bug in routesolar; please report it: {type(error).__name__}: {error}")
    return 1


def _no_room(error: OSError) -> int:
    """Return 3 where the disk that the output goes to is full; another failure of the system is ours."""
    if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return _refused_or_fault(error)
    _reader_left()
    _tell(f"the result could not be written ({error.strerror}); free some space, or write it elsewhere")
    return 3


def _print_anything() -> None:
    """Let a name that the terminal's encoding lacks come out as question marks, not as a fault."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _reader_left() -> int:
    """Return success where the program that read our output went away, as `head` does."""
    with Path(os.devnull).open("w") as nowhere:
        os.dup2(nowhere.fileno(), sys.stdout.fileno())  # what is still buffered goes there
    return 0


def _tell(message: str) -> None:
    """Print a message; it may quote strangers' text, which must not steer the terminal."""
    from routesolar.trip.names import printable

    lines = [f"{' ' * _indent(line)}{printable(line)}" for line in f"routesolar: {message}".split("\n")]
    if sys.stderr is not None:
        with suppress(OSError):
            print("\n".join(lines), file=sys.stderr)  # noqa: T201 - the last word before exit


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))
