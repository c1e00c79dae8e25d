"""What fails around the program costs no result and shows no traceback: streams, home, zones, Ctrl-C."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from terminal import ROOT, asked, road, spawned

RUN = [sys.executable, "-m", "routesolar"]


@pytest.fixture
def drive(tmp_path: Path) -> list[str]:
    return [*asked(road(tmp_path)), "--sky", "clear"]


def closed(stream: str, *words: str) -> subprocess.CompletedProcess[bytes]:
    """Run a command by a shell that closes one of its streams."""
    command = ["sh", "-c", f'exec "$@" {stream}', "sh", *RUN, *words]
    return subprocess.run(command, cwd=ROOT, capture_output=True, timeout=300, check=False)


def test_with_stdout_closed_the_files_are_written_all_the_same(drive: list[str], tmp_path: Path) -> None:
    done = closed(">&-", "harvest", *drive, "-o", str(tmp_path / "out"))
    assert (done.returncode, b"bug" in done.stderr) == (0, False)
    assert (tmp_path / "out" / "result.json").read_bytes().startswith(b"{")
    assert closed(">&-", "rig").returncode == 0
    assert closed("2>&-", "route", *drive).returncode == 0


def test_without_a_home_nothing_but_speed_is_lost(drive: list[str], tmp_path: Path) -> None:
    nowhere = {"HOME": str(tmp_path / "none"), "MPLCONFIGDIR": "/proc/none"}
    done = spawned("harvest", *drive, "-o", tmp_path / "out", **nowhere)
    assert done.returncode == 0, done.stderr
    ours = (" ", "Warning: ", "written")
    assert not [
        line for line in done.stderr.decode().splitlines() if not line.startswith(ours)
    ]  # libraries that miss their folders do not speak to the traveller


def test_without_time_zones_it_is_said(drive: list[str]) -> None:
    code = "import sys; sys.modules['tzdata'] = None; from routesolar.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "harvest", *drive],
        cwd=ROOT,
        env={**os.environ, "PYTHONTZPATH": ""},
        capture_output=True,
        timeout=300,
        check=False,
    )
    assert done.returncode in (2, 3), done.stderr
    assert b"Traceback" not in done.stderr and b"tzdata" in done.stderr


INTERRUPTED = """
import signal, sys
import routesolar.cli
signal.signal(signal.SIGALRM, signal.default_int_handler)
signal.setitimer(signal.ITIMER_REAL, float(sys.argv.pop(1)))
from routesolar.cli import main
main()
"""


@pytest.mark.parametrize("delay_s", [0.001, 0.05, 0.2])
def test_an_interruption_while_the_program_loads_leaves_no_traceback(drive: list[str], delay_s: float) -> None:
    # What interrupts Python itself before it has reached our code is Python's to tell.
    done = subprocess.run(
        [sys.executable, "-c", INTERRUPTED, str(delay_s), "harvest", *drive],
        cwd=ROOT,
        capture_output=True,
        timeout=300,
        check=False,
    )
    assert (done.returncode, b"Traceback" in done.stderr) == (130, False), done.stderr


COMPILED = """
import signal
import numpy as np
from routesolar.model.battery import draw_along, run_over_days
from routesolar.physics.on_lit import OnLit
from routesolar.trip.loads import Load
from routesolar.trip.rig import Battery, Panel, Rig
load = Load(name="fridge", power_w=40.0)
rig = Rig(panels=(Panel(rated_w=200.0),), battery=Battery(capacity_wh=1000.0), loads=(load,))
minutes = np.arange(2000.0)[None]
draw = draw_along(60 * minutes, np.full(minutes.shape, 60.0), np.ones(2000, bool), np.array(15.0), rig, "UTC")
few, many = ((OnLit.everywhere(np.full((days, 2000), 30.0)), np.full(days, 1 / days)) for days in (2, 5000))
run_over_days(draw, *few, rig)
signal.signal(signal.SIGALRM, signal.default_int_handler)
signal.setitimer(signal.ITIMER_REAL, 0.05)
try:
    run_over_days(draw, *many, rig)
except (KeyboardInterrupt, SystemError):
    print("interrupted")
"""


def test_an_interruption_within_compiled_code_does_not_crash_python() -> None:
    done = subprocess.run(
        [sys.executable, "-c", COMPILED], cwd=ROOT, capture_output=True, timeout=300, check=False, text=True
    )
    assert (done.returncode, done.stdout) == (0, "interrupted\n"), done.stderr
