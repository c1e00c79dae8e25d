"""Write docs/data_dictionary.md: every file, column and key, found by running the commands on the demo.

What each means is said once, in key_meanings.toml; units follow from the names. Run it after a key was added.
"""

import contextlib
import csv
import io
import json
import shlex
import sys
import tempfile
import tomllib
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any
from unittest import mock

import pyarrow.parquet as pq

from routesolar.cli import main

DOCS = Path(__file__).parent
TARGET = DOCS / "data_dictionary.md"
# Coarse steps: only the names of what is written count here.
_COAST = "demo_routes/coast.toml --step 1km"
COMMANDS = {
    "harvest": f"{_COAST} --map demo_routes/land.osm --also kml,gpx,card",
    "departures": f"{_COAST} --every 3h",
    "calendar": f"{_COAST} --every 6h",
    "compare": "demo_routes/coast.toml demo_routes/forest.toml --step 1km",
    "size": "demo_routes/transit_day.toml --rated 50,200,1600 --step 1km",
    "park": "demo_routes/forest.toml --at 'sampling site A' --within 20m "
    "--canopy-height demo_routes/height_site_a.tif",
    "breaks": f"{_COAST} --between 08:00..12:00 --every 40km",
    "study": "STUDY",
    "route": f"{_COAST}",
}
# A study as small as can be, of the demo's coast; its tables have all columns whatever was computed.
STUDY = """routes = "{demo}/coast.toml"
rigs = "200W"
dates = 2026-11-20
departures = "08:00"
skies = "fair"
"""
UNITS = {
    "wh": "Wh", "w": "W", "wm2": "W/m²", "frac": "0 to 1", "prob": "0 to 1", "deg": "°", "m": "m", "km": "km",
    "s": "s", "mps": "m/s", "kmh": "km/h", "c": "°C", "utc": "UTC, ISO 8601",
}  # fmt: skip


def written(command: str, words: str, folder: Path) -> dict[str, list[str]]:
    """Return the keys of result.json and the columns of the tables that a command writes."""
    if command == "study":
        study = folder.with_suffix(".toml")
        study.write_text(STUDY.format(demo=DOCS.parent / "demo_routes"), encoding="utf-8")
        words = words.replace("STUDY", str(study))
    output = ["--json"] if command == "route" else ["-o", str(folder)]
    printed = io.StringIO()
    asked = ["routesolar", command, *shlex.split(words), *output]
    with contextlib.chdir(DOCS.parent), redirect_stdout(printed), redirect_stderr(io.StringIO()) as told:
        try:
            with mock.patch.object(sys, "argv", asked):
                main()
        except SystemExit as left:
            if left.code:
                raise RuntimeError(f"{command}: {told.getvalue()}") from None
    if command == "route":
        return {"--json": keys_of(json.loads(printed.getvalue()))}
    found = {path.name: _keys_in(path) for path in sorted(folder.iterdir()) if path.is_file()}
    return found | {
        f"{path.parts[-3]}.parquet": _columns_of(path) for path in sorted(folder.rglob("*.parquet"))
    }


def keys_of(value: Any, before: str = "") -> list[str]:
    """Return the paths of all keys within a JSON value, in order, `[]` for the items of a list."""
    found: dict[str, None] = {}
    if isinstance(value, dict):
        for key, item in value.items():
            path = f"{before}.{key}" if before else key
            found |= dict.fromkeys([path, *keys_of(item, path)])
    elif isinstance(value, list):
        for item in value:
            found |= dict.fromkeys(keys_of(item, f"{before}[]"))
    return list(found)


def _keys_in(path: Path) -> list[str]:
    if path.name == "csv-metadata.json":  # its keys are those of a standard
        return []
    if path.suffix == ".csv":
        return next(csv.reader(path.read_text(encoding="utf-8").splitlines()))
    return keys_of(json.loads(path.read_text(encoding="utf-8"))) if path.suffix == ".json" else []


def _columns_of(path: Path) -> list[str]:
    """Return the columns of a Parquet file, those within others by their path."""

    def named(field: Any, before: str = "") -> list[str]:
        inner = [field.type.field(place) for place in range(field.type.num_fields)] if _is_struct(field) else []
        own = f"{before}{field.name}"
        return [own, *(name for each in inner for name in named(each, f"{own}."))]

    return [name for field in pq.read_schema(path) for name in named(field)]


def _is_struct(field: Any) -> bool:
    return str(field.type).startswith("struct")


def unit_of(key: str) -> str:
    """Return the unit that a name ends in."""
    name = key.rpartition(".")[2].removesuffix("[]")
    if "losses." in key:
        return "Wh"
    return UNITS.get(name.rpartition("_")[2], "") if "_" in name else ""


def meaning_of(command: str, key: str, meanings: dict[str, Any], used: set[str]) -> str:
    """Return what a key means: as said for the command's own key, else for its name anywhere.

    Raises:
        KeyError: nothing says what it means.
    """
    parent, _, name = key.rpartition(".")
    entry = f"losses {name}" if parent.endswith("losses") else name
    for where in (command, *(["harvest"] if command == "study" else []), "any"):
        if entry in meanings.get(where, {}):
            used.add(f"{where}.{entry}")
            return str(meanings[where][entry])
    raise KeyError(f"{command}: {key} has no meaning in key_meanings.toml")


def dictionary() -> str:
    """Return the text of the data dictionary.

    Raises:
        KeyError: a key is written that nothing explains, or an entry explains none.
    """
    meanings = tomllib.loads((DOCS / "key_meanings.toml").read_text(encoding="utf-8"))
    used: set[str] = set()
    lines = ["# Data dictionary", "", str(meanings.pop("intro"))]
    files = meanings.pop("files")
    for command, words in COMMANDS.items():
        lines += [f"## {command}", ""]
        with tempfile.TemporaryDirectory() as scratch:
            found = written(command, words, Path(scratch) / "out")
        for name, keys in found.items():
            used.add(f"files.{name}" if name in files else f"files.{Path(name).suffix}")
            what = files.get(name) or files[Path(name).suffix]
            lines += [f"**{name}**: {what}", ""]
            if keys:
                lines += ["| key | unit | meaning |", "|---|---|---|"]
                lines += [
                    f"| `{key}` | {unit_of(key)} | {meaning_of(command, key, meanings, used)} |" for key in keys
                ]
                lines.append("")
    said = {f"{where}.{key}" for where, entries in {**meanings, "files": files}.items() for key in entries}
    if said - used:
        raise KeyError(f"key_meanings.toml explains what is not written: {', '.join(sorted(said - used))}")
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    TARGET.write_text(dictionary(), encoding="utf-8")
