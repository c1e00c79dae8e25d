"""The command line as a process of its own: what it loads, and how it meets pipes and odd encodings."""

import gc
import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from terminal import ROOT, asked, road, run, spawned

from routesolar.cli.app import app_for
from routesolar.cli.commands import COMMANDS
from routesolar.version import VERSION

HEAVY = "numpy numba scipy pandas pvlib rasterio pyproj matplotlib folium gpxpy tzfpy h5py"

# Runs several commands, one after the other, and tells of each its exit code, whether it printed, and which of
# the libraries it names are there by then: what is loaded stays, so a command alone loads no more than is told.
LOADED = """
import contextlib, io, json, sys
from routesolar.cli import main
for heavy, *words in json.loads(sys.argv[1]):
    sys.argv[1:], out = words, io.StringIO()
    try:
        with contextlib.redirect_stdout(out):
            main()
    except SystemExit as left:
        print(json.dumps([left.code, len(out.getvalue()) > 0, *sorted({*heavy.split()} & {*sys.modules})]))
"""
HELP = [["--help"], ["--version"], [], *([name, "--help"] for name in COMMANDS)]
DRAWS = "matplotlib folium pandas pvlib shapely shapefile scipy.special scipy.spatial scipy.ndimage"
PRINTS = (
    "rich.table rich.console sqlite3 routesolar.decisions.park routesolar.decisions.compare "
    "routesolar.report.words_when routesolar.files.geojson"
)
TABLES = "pandas pyarrow scipy.spatial"
ANSWERS = ["harvest", "departures", "calendar", "compare", "size"]


def told(jobs: Sequence[Sequence[str]], folder: Path) -> list[list[Any]]:
    """Return what each job, libraries and a command's words, left behind in one process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", LOADED, json.dumps(jobs)],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(lines) == len(jobs), done.stderr
    return lines


# Names what was loaded without redirecting what is printed, for which more would have to be loaded.
BARELY = """
import sys
from routesolar.cli import main
heavy = sys.argv.pop(1).split()
try:
    main()
except SystemExit as left:
    print(left.code, *(name for name in heavy if name in sys.modules))
"""


def test_help_and_version_load_no_heavy_library() -> None:
    for words, (code, printed, *loaded) in zip(
        HELP, told([[HEAVY, *words] for words in HELP], ROOT), strict=True
    ):
        assert (code, printed) == (0 if words else 2, True), words
        assert loaded == [], words


@pytest.mark.parametrize("words", [["--help"], ["--version"], []])
def test_the_list_of_commands_loads_no_library_at_all(words: list[str]) -> None:
    slow = "typer rich pydantic typing re enum pathlib logging"
    done = subprocess.run(
        [sys.executable, "-S", "-c", BARELY, slow, *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == ("0" if words else "2"), done.stderr


def test_the_list_and_the_app_have_the_same_commands_and_words() -> None:
    app = app_for([])
    assert [command.name for command in app.registered_commands] == [*COMMANDS]
    for command in app.registered_commands:
        assert command.callback is not None
        first, _, _ = (command.callback.__doc__ or "").partition("\n\n")
        assert " ".join(first.split()) == COMMANDS[str(command.name)]


def test_the_list_of_commands_looks_the_same_whether_the_app_was_loaded_or_not() -> None:
    short = run("--help")
    by_the_app = run("--help", "--help")
    assert (by_the_app.code, by_the_app.out) == (0, short.out)
    assert (bare := run()).code == 2
    assert bare.out == short.out
    for name, meaning in COMMANDS.items():
        assert f"\n  {name} " in short.out
        assert all(word in short.out for word in meaning.split())


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Any]]:
    """Return what commands left behind that load ever more: JSON, answers in words, files."""
    folder = tmp_path_factory.mktemp("loaded")
    far, drive = str(road(folder, "far.gpx", length_km=15.0)), asked(road(folder))
    answers = {name: [DRAWS, name, *[far] * (name == "compare"), *drive] for name in ANSWERS}
    with_files = [TABLES, "harvest", *drive, "-o", "out"]
    jobs = {"json": [PRINTS, "harvest", *drive, "--json"], **answers, "files": with_files}
    found = dict(zip(jobs, told(list(jobs.values()), folder), strict=True))
    assert (folder / "out" / "page.html").exists()
    return found


@pytest.mark.parametrize("command", ANSWERS)
def test_an_answer_without_files_loads_nothing_that_draws_and_no_tables(
    loaded: dict[str, list[Any]], command: str
) -> None:
    assert loaded[command] == [0, True]


@pytest.mark.parametrize("asked_for", ["json", "files"])
def test_files_load_no_tables_and_json_loads_nothing_that_prints(
    loaded: dict[str, list[Any]], asked_for: str
) -> None:
    assert loaded[asked_for] == [0, True]


def test_the_list_of_heavy_libraries_is_real() -> None:
    # The check above could not fail if these names were never loaded at all.
    everything = "import sys, routesolar.cli.running, routesolar.report.map_sheet; print(*sys.modules)"
    harvesting = subprocess.run(
        [sys.executable, "-c", everything],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    unloaded = set(HEAVY.split()) - set(harvesting.stdout.split())
    assert unloaded <= {
        "scipy",
        "pandas",
        "pvlib",
        "gpxpy",
        "folium",
    }  # loaded only where they are used, if at all


# Tells, as the very last thing, how Python went over what lasts, and how many threads stand beside it.
AT_THE_END = """
import atexit, gc, os
from routesolar.cli import main

def rounds():
    return sum(kind["collections"] for kind in gc.get_stats())

def told():
    print(rounds() - before, gc.get_freeze_count(), len(os.listdir("/proc/self/task")))

atexit.register(told)
before = rounds()
main()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux lists a process' threads")
def test_what_lasts_is_not_gone_over_again_and_no_thread_waits_busily(tmp_path: Path) -> None:
    # By Python's and the libraries' own settings these are 280 times, no objects, and a thread a core.
    environment = {name: value for name, value in os.environ.items() if "_NUM_THREADS" not in name}
    done = subprocess.run(
        [sys.executable, "-c", AT_THE_END, "harvest", *asked(road(tmp_path)), "--json"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    rounds, frozen, threads = map(int, done.stdout.splitlines()[-1].split())
    assert rounds < 15
    assert frozen > 100_000
    assert threads == 1


def test_a_page_that_stays_looks_for_waste_as_python_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    serving = pytest.importorskip("routesolar.plan.serving")
    usual, found = gc.get_threshold(), []

    def ends_at_once(session: Any, started: object) -> None:
        found.append(gc.get_threshold())
        session._socket.close()
        session.folder.leave()

    monkeypatch.setattr(serving.Session, "run", ends_at_once)
    try:
        assert run("plan", "--no-browser", "--folder", tmp_path / "session").code == 0
        run("rig")
        assert gc.get_threshold() != found[0] == (700, 10, 10)
    finally:
        gc.unfreeze()
        gc.set_threshold(*usual)


def test_the_version_is_printed() -> None:
    done = spawned("--version")
    assert (done.returncode, done.stdout.decode(), done.stderr) == (0, f"routesolar {VERSION}\n", b"")


def test_a_refusal_is_one_line_on_stderr(tmp_path: Path) -> None:
    done = spawned("harvest", tmp_path / "none.gpx", "--panel", "200W")
    assert (done.returncode, done.stdout) == (3, b"")
    assert done.stderr.decode().count("\n") == 1
    assert "none.gpx" in done.stderr.decode()


def test_a_terminal_without_the_letters_shows_question_marks(tmp_path: Path) -> None:
    path = road(tmp_path)
    path.write_text(path.read_text(encoding="utf-8").replace("Camp", "Žabnica"), encoding="utf-8")
    done = spawned("harvest", *asked(path), PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr[:8]) == (0, b"Warning:")
    assert b"?abnica" in done.stdout


@pytest.mark.skipif(sys.platform != "linux", reason="file names are bytes only on Linux")
def test_a_file_name_that_is_no_text_harms_nothing(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.gpx"))
    shutil.copy(road(tmp_path), path)
    out = tmp_path / "out"
    done = spawned("harvest", *asked(path), "-o", out)
    assert (done.returncode, done.stderr.count(b"Traceback")) == (0, 0), done.stderr
    assert "caf" in (out / "result.json").read_text(encoding="utf-8")


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux has a device that is always full")
def test_a_full_disk_is_told_and_is_no_fault(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "routesolar", "route", "demo_routes/coast.toml"]
    with open("/dev/full", "wb") as full:  # noqa: PTH123 - a device, not a file
        told = subprocess.run(words, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, timeout=300, check=False)
        unheard = subprocess.run(words, cwd=ROOT, stdout=subprocess.PIPE, stderr=full, timeout=300, check=False)
    assert (told.returncode, told.stderr.count(b"\n")) == (3, 1)
    assert b"No space left on device" in told.stderr and b"fault" not in told.stderr
    assert unheard.returncode == 0
    assert unheard.stdout.startswith(b"coast road: ")


@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("words", [["rig"], ["route", "demo_routes/coast.toml"], ["--help"]])
def test_a_reader_that_goes_away_is_no_fault(words: list[str], unbuffered: str) -> None:
    # The read end is closed before anything is written, as `head` may do.
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "routesolar", *words],
        cwd=ROOT,
        env={**os.environ, "PYTHONUNBUFFERED": unbuffered},
        stdout=write,
        stderr=subprocess.PIPE,
        timeout=300,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (0, b"")


# The command line, with a disk so slow that the route is never read to its end.
SLOW_DISK = """
import time
from routesolar.cli import main
from routesolar.files import gpx

def waits(*_):
    print("reading", flush=True)
    time.sleep(100)

gpx.read_whole = waits
main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent otherwise there")
def test_an_interrupt_from_outside_leaves_with_130() -> None:
    running = subprocess.Popen(
        [sys.executable, "-c", SLOW_DISK, "route", "demo_routes/coast.gpx"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        # A test run in the background ignores interrupts, and what it starts would inherit that.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert running.stdout is not None
    assert running.stdout.readline() == b"reading\n"
    running.send_signal(signal.SIGINT)
    out, err = running.communicate(timeout=60)
    assert (running.returncode, out) == (130, b"")
    assert err.decode().strip() == "routesolar: interrupted; no file is left half-written"
