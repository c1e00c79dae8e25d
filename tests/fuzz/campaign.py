"""Throw wrong files at the command line and report what should never happen.

    python tests/fuzz/campaign.py --gpx 20000 --others 2000 --seed 1

Each kind of file runs in a process of its own; a case that ends it, or takes more than 30 s, is kept under
--keep and the next one goes on. For each case: exit code 0, 2, 3 or 4, no traceback, nothing that steers a
terminal, under 1.5 GB, and of a result no NaN, no negative energy, low <= mid <= high, legs that add up.
"""

import argparse
import faulthandler
import json
import resource
import subprocess
import sys
import time
import unicodedata
from pathlib import Path
from typing import Any

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS.parent)]

import rasterio  # noqa: E402
from fuzz.cases import KINDS, ROAD, Case, case, right_case, road_gpx  # noqa: E402
from fuzz.page_cases import wrong_answer  # noqa: E402
from terminal import Ran, run  # noqa: E402

from routesolar.errors import RoutesolarError  # noqa: E402
from routesolar.files.weather import read_weather  # noqa: E402

LONGEST_S, MOST_BYTES = 30, 1_500_000_000
_CONTROL = {"Cc", "Cf", "Cs", "Zl", "Zp"}


def complaints(ran: Ran) -> list[str]:
    """Return what is wrong with the way a command ended."""
    wrong = []
    if ran.code not in (0, 2, 3, 4):
        wrong.append(f"exit {ran.code}: {ran.err[:300]}")
    if "Traceback" in ran.err:
        wrong.append("a traceback")
    if {unicodedata.category(letter) for letter in set(ran.out + ran.err) - {"\n"}} & _CONTROL:
        wrong.append("control characters on the terminal")
    if len(ran.err) > 20_000:
        wrong.append(f"{len(ran.err)} letters of messages")
    if ran.code == 0 and ran.out.startswith("{"):
        wrong += _wrong_numbers(ran.out)
    return wrong


def _wrong_numbers(text: str) -> list[str]:
    try:
        found = json.loads(text, parse_constant=lambda word: float(f"not {word}"))
    except ValueError as error:
        return [f"JSON with {error}"]
    totals, legs = found["totals"], found["legs"]
    wrong = [
        f"{key} is {value}" for row in (totals, *legs) for key, value in row.items() if _negative(key, value)
    ]
    for row in (totals, *legs):
        three = [row.get(f"energy_{word}_wh") for word in ("low", "mid", "high")]
        if None not in three and not three[0] <= three[1] <= three[2]:
            wrong.append(f"low, mid, high are {three}")
    summed = sum(leg["energy_wh"] for leg in legs)
    if abs(summed - totals["energy_wh"]) > 1e-9 * max(1.0, totals["energy_wh"]):
        wrong.append(f"legs add up to {summed}, not {totals['energy_wh']}")
    return wrong


def _negative(key: str, value: Any) -> bool:
    return (
        key.startswith(("energy_", "open_sky_wh", "clear_sky_wh", "peak_w")) and value is not None and value < 0
    )


def tried(one: Case, folder: Path) -> list[str]:
    """Write a case's file, run its command in this process, and return what is wrong with the answer."""
    path = folder / one.name
    path.write_bytes(one.content)
    if one.words[0] == "page":
        (folder / "page").mkdir(exist_ok=True)
        (folder / "page" / ROAD).write_text(road_gpx(), encoding="utf-8")
        return wrong_answer(one.content, folder / "page")
    if one.words[0] != "weather":
        words = [word.replace("{file}", str(path)).replace(ROAD, str(folder / ROAD)) for word in one.words]
        return complaints(run(*words))
    try:
        read_weather(path)  # its harvest would take seconds: a typical year is a sample of days
    except RoutesolarError as error:
        return complaints(Ran(error.exit_code, "", ""))
    except Exception as error:
        return [f"{type(error).__name__}: {error}"]
    return []


def prepared(folder: Path) -> Path:
    """Return a folder with the files beside which cases are read."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / ROAD).write_text(road_gpx(), encoding="utf-8")
    (folder / "f.prj").write_text(rasterio.CRS.from_epsg(4326).to_wkt(), encoding="utf-8")
    return folder


def work(kind: str, seed: int, numbers: range, folder: Path, until_s: float) -> None:
    """Try cases, and print a line for each finding; the file `at` holds the number that is being tried."""
    for wrong in tried(right_case(kind), folder):
        print(json.dumps([-1, wrong]), flush=True)
    for number in numbers:
        if time.time() > until_s:
            break
        (folder / "at").write_text(str(number), encoding="utf-8")
        faulthandler.dump_traceback_later(LONGEST_S, exit=True)
        for wrong in tried(case(kind, seed, number), folder):
            print(json.dumps([number, wrong]), flush=True)
        faulthandler.cancel_dump_traceback_later()
        if resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 > MOST_BYTES:
            print(json.dumps([number, "more than 1.5 GB"]), flush=True)
            raise SystemExit(9)
    else:
        number = numbers.stop
    (folder / "at").write_text(str(number), encoding="utf-8")
    print(json.dumps([number, None]), flush=True)


def campaign(kind: str, seed: int, count: int, folder: Path, until_s: float) -> list[tuple[int, str]]:
    """Run a kind's cases in processes of their own and return numbers and findings; the count is printed."""
    prepared(folder)
    first, findings, started = 0, [], time.time()
    while first < count and time.time() < until_s:
        words = ["--work", kind, "--seed", str(seed), "--first", str(first), "--others", str(count)]
        done = subprocess.run(
            [sys.executable, __file__, *words, "--keep", str(folder), "--seconds", str(until_s - time.time())],
            capture_output=True,
            text=True,
            check=False,
        )
        lines = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("[")]
        findings += [(number, wrong) for number, wrong in lines if wrong]
        reached = int((folder / "at").read_text(encoding="utf-8"))
        if done.returncode == 0:
            first = reached
            break
        if done.returncode != 9:
            findings.append((reached, f"the process ended with {done.returncode}: {done.stderr[-600:]}"))
        first = reached + 1
    for number, _ in findings:
        one = case(kind, seed, number) if number >= 0 else right_case(kind)
        (folder / f"found_{number}_{one.name}").write_bytes(one.content)
    print(f"{kind}: {first} cases in {time.time() - started:.0f} s, {len(findings)} findings", flush=True)
    for number, wrong in findings:
        print(f"  {kind} {number}: {wrong}", flush=True)
    return findings


def main() -> None:
    """Run the campaign that the arguments ask for; exit 1 where anything was found."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--gpx", type=int, default=20_000)
    asked.add_argument("--others", type=int, default=2_000)
    asked.add_argument("--kinds", default=",".join(KINDS))
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--seconds", type=float, default=1e9)
    asked.add_argument("--keep", type=Path, default=Path("fuzz_findings"))
    asked.add_argument("--work")
    asked.add_argument("--first", type=int, default=0)
    given = asked.parse_args()
    until_s = time.time() + given.seconds
    if given.work:
        work(given.work, given.seed, range(given.first, given.others), given.keep, until_s)
        return
    found = []
    for kind in given.kinds.split(","):
        count = given.gpx if kind == "gpx" else given.others
        found += campaign(kind, given.seed, count, given.keep.resolve() / kind, until_s)
    raise SystemExit(bool(found))


if __name__ == "__main__":
    main()
