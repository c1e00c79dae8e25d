"""Machine code is only run from a folder that is the user's own, and only as it was written."""

import os
import random
import resource
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CALL = """
from routesolar.physics.compiled import cache_folder
from routesolar.physics.partial_shade import hard_shade_frac
print(hard_shade_frac(0.25, 1, 3), cache_folder())
"""
LEFT_FRAC = 0.75 * (1 - 1 / 4)  # a quarter of the area and one block of three shaded, by the formula


def run(cache: Path | None, **environment: str) -> tuple[float, Path | None]:
    """The result of a compiled formula in a fresh process, and the folder its machine code came from."""
    chosen = {} if cache is None else {"XDG_CACHE_HOME": str(cache)}
    done = subprocess.run(
        [sys.executable, "-c", CALL],
        cwd=ROOT,
        env={**os.environ, "NUMBA_DISABLE_JIT": "0", **chosen, **environment},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    left_frac, folder = done.stdout.split(maxsplit=1)
    return float(left_frac), None if folder.strip() == "None" else Path(folder.strip())


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cache that a run has filled."""
    cache = tmp_path_factory.mktemp("cache")
    left_frac, folder = run(cache)
    assert left_frac == pytest.approx(LEFT_FRAC, abs=1e-12)
    assert folder is not None and list(folder.rglob("*.nbc")), "nothing was kept on disk"
    return cache


@pytest.fixture
def cache(filled: Path, tmp_path: Path) -> Path:
    """A copy of it, to be spoilt."""
    shutil.copytree(filled, tmp_path, dirs_exist_ok=True)
    return tmp_path


def test_cut_emptied_and_flipped_files_are_compiled_anew(cache: Path) -> None:
    rng = random.Random(1)
    for turn in range(6):
        for file in [*cache.rglob("*.nbi"), *cache.rglob("*.nbc")]:
            content = bytearray(file.read_bytes())
            at = rng.randrange(len(content))
            content[at] ^= 1 << rng.randrange(8)
            file.write_bytes([b"", content[:at], content][turn % 3])
        assert run(cache)[0] == pytest.approx(LEFT_FRAC, abs=1e-12)


def test_a_folder_that_others_can_write_is_not_used(cache: Path) -> None:
    (cache / "routesolar").chmod(0o777)
    left_frac, folder = run(cache)
    assert left_frac == pytest.approx(LEFT_FRAC, abs=1e-12)
    assert folder is not None and cache not in folder.parents
    assert not folder.exists(), "the folder of one run is left behind"


@pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() != 0, reason="only root can give files away")
def test_a_folder_of_another_user_is_not_used(cache: Path) -> None:
    os.chown(cache / "routesolar", 65_534, 65_534)
    _, folder = run(cache)
    assert folder is not None and cache not in folder.parents


def test_where_no_cache_can_be_made_the_result_is_the_same(tmp_path: Path) -> None:
    taken = tmp_path / "a file"
    taken.write_text("not a folder")
    left_frac, folder = run(taken)
    assert left_frac == pytest.approx(LEFT_FRAC, abs=1e-12)
    assert folder is not None and not folder.exists()


def test_a_full_disk_costs_speed_and_not_the_result(tmp_path: Path) -> None:
    def full() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))

    done = subprocess.run(
        [sys.executable, "-c", CALL],
        cwd=ROOT,
        env=os.environ | {"NUMBA_DISABLE_JIT": "0", "XDG_CACHE_HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=120,
        preexec_fn=full,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert float(done.stdout.split()[0]) == pytest.approx(LEFT_FRAC, abs=1e-12)
    assert not list(tmp_path.rglob("*.tmp.*"))
