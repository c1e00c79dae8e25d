"""The same inputs give the same bytes: on one thread or two, in any folder, language and order of hashes."""

import os
import subprocess
import sys
from pathlib import Path

from terminal import ROOT, asked, road

NOWHERE = {"LC_ALL": "C", "LANG": "C", "NUMBA_NUM_THREADS": "1", "PYTHONHASHSEED": "1", "TZ": "UTC"}
ELSEWHERE = {
    "LC_ALL": "C.UTF-8",
    "LANG": "de_DE.UTF-8",
    "NUMBA_NUM_THREADS": "2",
    "PYTHONHASHSEED": "2",
    "TZ": "Pacific/Auckland",
}


def results(route: Path, folder: Path, here: Path, environment: dict[str, str], *more: str) -> dict[str, bytes]:
    here.mkdir()
    done = subprocess.run(
        [sys.executable, "-m", "routesolar", "harvest", *asked(route), *more, "-o", str(folder)],
        cwd=here,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        timeout=300,
        check=True,
    )
    return {"stdout": done.stdout, **{path.name: path.read_bytes() for path in folder.iterdir()}}


def test_the_same_inputs_give_the_same_bytes(tmp_path: Path) -> None:
    route = road(tmp_path)
    more = ("--canopy-cover", "50", "--also", "gpx,kml")
    one = results(route, tmp_path / "one", tmp_path / "here", NOWHERE, *more)
    other = results(route, tmp_path / "other", tmp_path / "there", ELSEWHERE, *more)
    assert one.keys() == other.keys()
    assert [name for name in one if one[name] != other[name]] == []
