"""The folder of a study: the tables' parts, one for every route and date, each written whole."""

import json
import re
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from routesolar.errors import OutputError
from routesolar.files.folder import write_file
from routesolar.files.parquet import record_of
from routesolar.files.reading import printable

# Drives come last: a part is finished once its drives are there.
TABLES = ("legs", "days", "drives")
OTHER_NAMES = frozenset({"result.json", "page.html", "study.json"})
SCHEMA = "routesolar.study/1"
_NOT_IN_NAMES = re.compile(r"[^\w.-]+")


class Part(NamedTuple):
    """What is computed and written together: a route, by the name of its folder, on one date."""

    route: str
    day: date


def folder_name(name: str) -> str:
    """Return a name that every disk and every reader of data sets takes for a folder."""
    return _NOT_IN_NAMES.sub("_", name).strip("._")[:80] or "route"


def place_of(folder: Path, table: str, part: Part) -> Path:
    """Return where a table's part lies."""
    return folder / table / part.route / f"{part.day.isoformat()}.parquet"


def check_study_folder(folder: Path) -> None:
    """Refuse a folder that holds anything but an earlier study.

    Raises:
        OutputError: it is a file, or holds what is not of a study.
    """
    try:
        if not folder.exists():
            return
        if not folder.is_dir():
            raise OutputError(f"{folder} is a file, not a folder; give another name with -o")
        names = sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))
    except (OSError, ValueError) as error:
        raise OutputError(f"{printable(str(folder))} cannot be used ({error}); give another folder") from None
    foreign = [name for name in names if name not in TABLES and name not in OTHER_NAMES]
    if foreign or (names and not _is_a_study(folder / "study.json")):
        holds = f"holds {printable(foreign[0])!r}, which is" if foreign else "holds what is"
        raise OutputError(f"{folder} {holds} not of a study; give another folder with -o")


def finished_parts(folder: Path) -> Iterator[tuple[Part, Mapping[str, Any]]]:
    """Return the parts that are there, and what each rests on; nothing of a file that is not whole."""
    for path in sorted((folder / "drives").glob("*/*.parquet")):
        try:
            part = Part(path.parent.name, date.fromisoformat(path.stem))
        except ValueError:
            continue
        yield part, record_of(path) or {}


def write_part(folder: Path, part: Part, tables: Mapping[str, bytes]) -> None:
    """Write the tables of a part, each whole or not at all; a run killed between them writes all anew.

    Raises:
        OutputError: the disk refuses.
    """
    for table in TABLES:
        path = place_of(folder, table, part)
        _make(path.parent)
        write_file(path, tables[table])


def remove_part(folder: Path, part: Part) -> None:
    """Take the tables of a part away, drives first.

    Raises:
        OutputError: the disk refuses.
    """
    try:
        for table in reversed(TABLES):
            place_of(folder, table, part).unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: an old part cannot be removed ({error.strerror})") from None


def write_beside(folder: Path, name: str, content: str) -> None:
    """Write one of the files beside the tables, whole or not at all.

    Raises:
        OutputError: the disk refuses.
    """
    _make(folder)
    write_file(folder / name, content.encode())


def as_json(content: Mapping[str, Any]) -> str:
    """Return the text of a JSON file: only ASCII characters."""
    return json.dumps(content, indent=1, allow_nan=False) + "\n"


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder} cannot be made ({error.strerror}); give another folder with -o") from None


def _is_a_study(path: Path) -> bool:
    try:
        return bool(json.loads(path.read_bytes())["schema"] == SCHEMA)
    except (OSError, ValueError, KeyError, TypeError):
        return False
