"""Everything routesolar raises on purpose, under one root.

Each message says what came, what is wrong with it and what to do, and names the file and line
where there is one. Only the command line catches these.
"""

INTERRUPTED, TERMINATED = 130, 143  # exit codes of a command that was stopped from outside


class RoutesolarError(Exception):
    """Root of all deliberate errors; `exit_code` is what the command line returns."""

    exit_code = 1


class UsageError(RoutesolarError, ValueError):
    """The request itself does not make sense (options that clash, a value without a unit)."""

    exit_code = 2


class InputError(RoutesolarError, ValueError):
    """A file or a value in it cannot be used."""

    exit_code = 3


class OutputError(RoutesolarError, OSError):
    """A result cannot be written where it was asked for."""

    exit_code = 3


class CoverageError(RoutesolarError, ValueError):
    """With `--strict`: the data given does not cover the route."""

    exit_code = 4
