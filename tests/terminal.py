"""The command line for tests: in this process, since starting one for each check would take seconds."""

import contextlib
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

from routes import gpx, point, straight, track

from routesolar.cli import main

ROOT = Path(__file__).parents[1]


class Ran(NamedTuple):
    """What a command left behind: its exit code and what it printed."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The result printed with --json."""
        return json.loads(self.out)


def run(*arguments: object) -> Ran:
    """Run the command line within this process."""
    out, err = io.StringIO(), io.StringIO()
    words = ["routesolar", *map(str, arguments)]
    code: object = None
    with (
        mock.patch.object(sys, "argv", words),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as left:
            code = left.code
    assert isinstance(code, int), f"left with {code!r}"
    return Ran(code, out.getvalue(), err.getvalue())


def refused(code: int, *arguments: object) -> str:
    """Run a command that must fail with this code; return its one message."""
    ran = run(*arguments)
    assert (ran.code, ran.out) == (code, ""), ran.err
    assert ran.err.startswith("routesolar: ")
    assert "Traceback" not in ran.err
    return ran.err.removeprefix("routesolar: ").rstrip("\n")


def spawned(*arguments: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run `python -m routesolar` as a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "routesolar", *map(str, arguments)],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        timeout=300,
        check=False,
    )


def road(folder: Path, name: str = "road.gpx", *, length_km: float = 10.0, camp_km: float = 4.0) -> Path:
    """Write a straight road in Tasmania with one waypoint, "Camp", and no times; return its path."""
    latitude, longitude = straight([0.0, camp_km * 1000, length_km * 1000])
    points = [point(*place, "<ele>100</ele>") for place in zip(latitude, longitude, strict=True)]
    camp = point(latitude[1], longitude[1], "<name>Camp</name>", kind="wpt")
    path = folder / name
    path.write_text(gpx(camp + track(*points)), encoding="utf-8")
    return path


def asked(route: Path) -> list[str]:
    """Return the least that has to be said of such a road: panel, departure and pace."""
    return [str(route), "--panel", "200W", "--depart", "2026-11-20 12:00", "--speed", "60km/h"]
