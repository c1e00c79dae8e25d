"""The compile cache must notice a changed formula, also in another file than that of the function called."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from routesolar.physics.compiled import fingerprint

PACKAGE = Path(__file__).parents[2] / "routesolar"
# `local_m` is compiled in corridor.py, with the length of a degree of geodesy.py.
CALL = """
from routesolar.physics.compiled import cache_folder
from routesolar.physics.corridor import local_m
print(local_m(48.01, 8.0, 48.0, 8.0)[1], cache_folder())
"""


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the package, to be spoilt."""
    shutil.copytree(PACKAGE, tmp_path / "routesolar", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def run(copy: Path) -> tuple[float, Path]:
    """The result of the formula in a fresh process, and the folder its machine code came from."""
    environment = os.environ | {
        "PYTHONPATH": str(copy),
        "XDG_CACHE_HOME": str(copy / "cache"),
        "NUMBA_DISABLE_JIT": "0",
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    done = subprocess.run(
        [sys.executable, "-c", CALL], cwd=copy, env=environment, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    result, folder = done.stdout.split(maxsplit=1)
    return float(result), Path(folder.strip())


def edit(source: Path, old: str, new: str) -> None:
    text = source.read_text(encoding="utf-8")
    assert text.count(old) == 1
    source.write_text(text.replace(old, new), encoding="utf-8")


def machine_code(folder: Path) -> dict[Path, int]:
    return {file: file.stat().st_mtime_ns for file in folder.rglob("*.nbc")}


def test_an_edited_formula_changes_the_result_although_its_callers_file_did_not(copy: Path) -> None:
    first, first_folder = run(copy)
    code = machine_code(first_folder)
    assert code, "nothing was compiled to disk"

    again, same_folder = run(copy)
    assert (again, same_folder) == (first, first_folder)
    assert machine_code(same_folder) == code, "the second run compiled anew"

    edit(copy / "routesolar" / "physics" / "geodesy.py", "6_378_137.0", "3_189_068.5")
    edited, edited_folder = run(copy)
    assert edited == pytest.approx(first / 2, rel=1e-12)  # half the earth
    assert edited_folder != first_folder

    edit(copy / "routesolar" / "physics" / "geodesy.py", "3_189_068.5", "6_378_137.0")
    assert run(copy) == (first, first_folder)


def test_the_fingerprint_depends_on_every_source_and_on_its_name(tmp_path: Path) -> None:
    prints = []
    (tmp_path / "one.py").write_text("a = 1\n")
    prints.append(fingerprint(tmp_path))
    (tmp_path / "two.py").write_text("b = 2\n")
    prints.append(fingerprint(tmp_path))
    (tmp_path / "two.py").write_text("b = 3\n")
    prints.append(fingerprint(tmp_path))
    (tmp_path / "two.py").rename(tmp_path / "three.py")
    prints.append(fingerprint(tmp_path))
    (tmp_path / "notes.txt").write_text("not a source\n")
    assert fingerprint(tmp_path) == prints[-1]
    assert len(set(prints)) == 4
