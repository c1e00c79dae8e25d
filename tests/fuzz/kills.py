"""Kill runs while they write a folder: it is then the old one or the new, whole, or the next run mends it.

python tests/fuzz/kills.py 200         # of a loop that writes and writes
python tests/fuzz/kills.py 20 harvest  # of whole commands, at any moment
"""

import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

from fuzz.cases import road_gpx  # noqa: E402

# Writes results of 8 files, each run's its own number throughout, until it is killed; says so before each.
WRITES = """
import json, sys
from pathlib import Path
from routesolar.files.folder import OUR_NAMES, write_folder
first, folder = int(sys.argv[1]), Path(sys.argv[2])
for number in range(first, first + 10_000):
    body = f"{number} ".encode() * 50_000
    contents = {name: body for name in sorted(OUR_NAMES)[:7]}
    contents["result.json"] = json.dumps({"schema": "routesolar.harvest/2", "number": number}).encode()
    print(number, flush=True)
    write_folder(folder, contents, force=True)
"""


def killed(folder: Path, first: int, delay_s: float) -> int:
    """Let a process write result after result for so long, kill it, and return the number it had come to."""
    environment = {**os.environ, "PYTHONPATH": str(TESTS.parent)}
    words = [sys.executable, "-c", WRITES, str(first), str(folder)]
    with subprocess.Popen(words, env=environment, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(delay_s)
        process.kill()
        said = process.stdout.read().split()
    return int(said[-1]) if said else first


def numbers_in(folder: Path) -> set[bytes]:
    """Return the numbers that the files of a folder bear, each whole; all files of one result bear the same."""
    found = set()
    for path in folder.iterdir():
        words = path.read_bytes().split()
        whole = len(words) == 50_000 and len(set(words)) == 1
        if path.name != "result.json":
            found.add(words[0] if whole else b"cut short: " + path.name.encode())
    return found


def campaign(count: int, folder: Path, seed: int = 1) -> list[str]:
    """Return what was wrong after each of so many kills."""
    chance, wrong, first, before = random.Random(seed), [], 0, b"0"
    for kill in range(count):
        reached = killed(folder, first, chance.uniform(0.0, 0.06))
        aside = folder.with_name(f".{folder.name}.old-routesolar")
        there = folder if folder.exists() else aside  # the next run moves it back
        numbers = numbers_in(there) if there.exists() else set()
        right = {before, *(str(number).encode() for number in range(first, reached + 1))}
        if len(numbers) != 1 or not numbers <= right:
            wrong.append(f"kill {kill}: {sorted(numbers)} after {before!r}, {first} to {reached}")
        before = min(numbers, default=before)
        first = reached + 1
    done = subprocess.run(
        [sys.executable, "-c", WRITES.replace("first + 10_000", "first + 1"), str(first), str(folder)],
        env={**os.environ, "PYTHONPATH": str(TESTS.parent)},
        capture_output=True,
        check=False,
    )
    left = sorted(path.name for path in folder.parent.iterdir())
    if done.returncode or left != [folder.name] or numbers_in(folder) != {str(first).encode()}:
        wrong.append(f"the run after them left {left}, {done.stderr[-300:]!r}")
    return wrong


def harvest(road: Path, folder: Path, clock: str) -> subprocess.Popen[bytes]:
    """Start a harvest that leaves at a time and takes the place of an earlier result."""
    asked = ["--panel", "200W", "--depart", f"2026-11-20 {clock}", "--speed", "60km/h", "--sky", "clear"]
    words = [sys.executable, "-m", "routesolar", "harvest", str(road), *asked, "-o", str(folder), "--force"]
    environment = {**os.environ, "PYTHONPATH": str(TESTS.parent)}
    return subprocess.Popen(words, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def contents(folder: Path) -> dict[str, bytes]:
    """Return what a folder holds, nothing where there is none."""
    return {path.name: path.read_bytes() for path in folder.iterdir()} if folder.exists() else {}


def harvests(count: int, folder: Path, seed: int = 1) -> list[str]:
    """Kill whole harvests at random moments and return what was wrong: neither the old result nor the new."""
    chance, wrong, road = random.Random(seed), [], folder / "road.gpx"
    folder.mkdir(parents=True)
    road.write_text(road_gpx(), encoding="utf-8")
    whole, took_s = {}, 0.0
    for clock in ("10:00", "15:00"):
        began_s = time.monotonic()
        harvest(road, folder / "out", clock).wait()
        took_s = time.monotonic() - began_s
        whole[clock] = contents(folder / "out")
    for kill in range(count):
        clock = ("10:00", "15:00")[kill % 2]
        process = harvest(road, folder / "out", clock)
        time.sleep(chance.choice([chance.uniform(0, took_s), chance.uniform(0.8, 1.0) * took_s]))
        process.kill()
        process.wait()
        there = folder / "out"
        if not there.exists():  # between the two renames; the next run moves it back
            there = folder / ".out.old-routesolar"
        if contents(there) not in whole.values():
            wrong.append(f"kill {kill}: {sorted(contents(there))}")
    harvest(road, folder / "out", "10:00").wait()
    left = sorted(path.name for path in folder.iterdir())
    if contents(folder / "out") != whole["10:00"] or left != ["out", "road.gpx"]:
        wrong.append(f"the run after them left {left}")
    return wrong


def main() -> None:
    """Kill as often as the argument says; exit 1 where anything was lost."""
    kind = harvests if sys.argv[2:] == ["harvest"] else campaign
    with tempfile.TemporaryDirectory() as there:
        wrong = kind(int(sys.argv[1]), Path(there) / "out")
    print(f"{sys.argv[1]} kills, {len(wrong)} findings", *wrong, sep="\n  ")
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
