"""How much is taken in: beyond it one message before work starts, within it 1.5 GB are enough."""

import re
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from routes import gpx, point, track
from terminal import ROOT, asked, refused, road

from routesolar.limits import LIMITS, RASTER_DRIVERS

LEAST_BYTES = 1_500_000_000


def test_security_md_prints_the_table_of_limits() -> None:
    said = (ROOT / "SECURITY.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (.+) \| ([\d,]+) (\w+) \| (.+) \|$", said, re.MULTILINE)
    assert rows == [(what, f"{limit.most:,}", limit.unit, limit.why) for what, limit in LIMITS.items()]
    assert all(driver in said for driver in RASTER_DRIVERS)


def test_a_track_that_jumps_across_the_globe_is_refused(tmp_path: Path) -> None:
    places = [point(80 * (-1) ** i, 170 * (-1) ** (i // 2)) for i in range(2000)]
    (tmp_path / "jumps.gpx").write_text(gpx(track(*places)), encoding="utf-8")
    assert "km long, more than 100,000 km" in refused(3, "harvest", *asked(tmp_path / "jumps.gpx"))


KEY = ".".join(["a"] * 100_000) + " = 1"
QUOTED_KEY = "x = {" + ".".join(['""'] * 100_000) + " = 1}"
SURROUNDED = '[[surroundings]]\nfrom = "0m"\nto = "9m"\nroofed = true\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (KEY, "more than 20 names with dots"),
        (QUOTED_KEY, "more than 20 names with dots"),
        ('route = "road.gpx"\n' + SURROUNDED * 1001, "surroundings has 1,001 entries, more than 1000"),
        ("route = [" + '"road.gpx",' * 201 + "]", "route has 201 entries, more than 200"),
        ('route = "road.gpx"\n' + "#" * 500_000, "larger than 0.5 MB"),
    ],
    ids=["dots", "quoted dots", "surroundings", "routes", "bytes"],
)
def test_a_trip_file_beyond_the_limits_is_refused(tmp_path: Path, text: str, message: str) -> None:
    road(tmp_path)
    (tmp_path / "trip.toml").write_text(text, encoding="utf-8")
    assert message in refused(3, "route", tmp_path / "trip.toml")


def test_a_rig_beyond_the_limits_is_refused(tmp_path: Path) -> None:
    (tmp_path / "van.toml").write_text("[[panel]]\nrated_w = 100\n" * 25, encoding="utf-8")
    assert "panel has 25 entries, more than 24" in refused(3, "rig", tmp_path / "van.toml")


def test_thousands_of_unknown_keys_are_told_in_a_few_lines(tmp_path: Path) -> None:
    keys = "".join(f"k{number} = 1\n" for number in range(30_000))
    (tmp_path / "trip.toml").write_text('route = "road.gpx"\n' + keys, encoding="utf-8")
    said = refused(3, "route", tmp_path / "trip.toml")
    assert said.startswith(f"{tmp_path / 'trip.toml'}: more than 20 things are wrong")
    assert len(said) < 10_000


# The kernel's own count begins with the program; getrusage has also what the parent held when it forked.
MEASURED = """
import pathlib, re, sys
from routesolar.cli import main
try:
    main()
except SystemExit as left:
    status = pathlib.Path("/proc/self/status").read_text()
    print(left.code, int(re.search(r"VmHWM:\\s+(\\d+) kB", status)[1]) * 1024, file=sys.stderr)
"""


@pytest.mark.slow
@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="the system does not tell a program's memory"
)
def test_a_forecast_of_4000_rows_along_the_route_stays_small(tmp_path: Path) -> None:
    # 7 million cells of times and places; as a table of both it took 8.8 GB.
    start = datetime.fromisoformat("2026-11-20T12:00+11:00")
    rows = [
        f"{(start + timedelta(seconds=second)).isoformat()},{-42 + second / 2e4},147,0.4"
        for second in range(0, 12_000, 3)
    ]
    table = "time,latitude_deg,longitude_deg,cloud_frac\n" + "\n".join(rows)
    (tmp_path / "along.csv").write_text(table, encoding="utf-8")
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            MEASURED,
            "harvest",
            *asked(road(tmp_path)),
            "--weather",
            tmp_path / "along.csv",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    code, most_bytes = done.stderr.split()[-2:]
    assert code == "0", done.stderr
    assert int(most_bytes) < LEAST_BYTES / 2
