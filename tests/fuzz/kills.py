"""Kill runs while they write a folder: it is then the old one or the new, whole, or the next run mends it.

python tests/fuzz/kills.py 200
"""

import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).parents[1]
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


def main() -> None:
    """Kill as often as the argument says; exit 1 where anything was lost."""
    with tempfile.TemporaryDirectory() as there:
        wrong = campaign(int(sys.argv[1]), Path(there) / "out")
    print(f"{sys.argv[1]} kills, {len(wrong)} findings", *wrong, sep="\n  ")
    raise SystemExit(bool(wrong))


if __name__ == "__main__":
    main()
