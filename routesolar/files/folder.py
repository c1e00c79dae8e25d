"""Write a result folder whole or not at all."""

import json
import shutil
from collections.abc import Mapping
from pathlib import Path

from routesolar.errors import OutputError

OUR_NAMES = frozenset(
    {
        "result.json",
        "page.html",
        "map.png",
        "legs.csv",
        "segments.csv",
        "route.geojson",
        "route.kml",
        "route.gpx",
    }
    | {
        f"{command}.{kind}"
        for command in ("departures", "calendar", "compare", "size", "park")
        for kind in ("csv", "png")
    }
)


def write_folder(folder: Path, contents: Mapping[str, bytes], *, force: bool) -> None:
    """Write the named `contents` into `folder`, all or none.

    They are first written beside it and then moved into place. An existing folder is replaced only
    with `force`, and only if it is an earlier result of ours: it holds our result.json and nothing
    but names of ours. A run that was killed between the two moves is mended by the next one.

    Raises:
        OutputError: the folder exists and may not be replaced, or the disk refuses.
    """
    try:
        folder = folder.resolve()
        if not folder.name:
            raise OutputError(f"{folder} is the top of the disk; give a folder in it with -o")
        _mend(folder)
        _check_replaceable(folder, force=force)
        _swap_in(folder, contents)
    except OutputError:
        raise
    except (OSError, RuntimeError) as error:  # RuntimeError: links that lead in a circle
        reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(f"{folder} cannot be written: {reason}; give another folder with -o") from error


def _swap_in(folder: Path, contents: Mapping[str, bytes]) -> None:
    fresh, aside = _beside(folder, "new"), _beside(folder, "old")
    folder.parent.mkdir(parents=True, exist_ok=True)
    try:
        fresh.mkdir()
        for name, content in contents.items():
            (fresh / name).write_bytes(content)
        if folder.exists():
            folder.rename(aside)
        fresh.rename(folder)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        _mend(folder)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _mend(folder: Path) -> None:
    """Undo or finish a swap that was interrupted."""
    fresh, aside = _beside(folder, "new"), _beside(folder, "old")
    if aside.exists():
        if folder.exists():
            shutil.rmtree(aside)  # the new folder had already moved in
        else:
            aside.rename(folder)
    if fresh.exists():
        shutil.rmtree(fresh)


def _beside(folder: Path, word: str) -> Path:
    return folder.with_name(f".{folder.name}.{word}-routesolar")


def _check_replaceable(folder: Path, *, force: bool) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise OutputError(f"{folder} is a file, not a folder; give another name with -o")
    if not force:
        raise OutputError(f"{folder} exists already; give another folder with -o, or replace it with --force")
    foreign = sorted(
        path.name
        for path in folder.iterdir()
        if path.name not in OUR_NAMES or path.is_symlink() or not path.is_file()
    )
    if foreign:
        raise OutputError(
            f"{folder} holds {foreign[0]!r}, which is not a result of ours, so --force does not replace it; "
            "give another folder with -o"
        )
    if not _is_ours(folder / "result.json"):
        raise OutputError(
            f"{folder} has no result.json of ours, so --force does not replace it; give another folder with -o"
        )


def _is_ours(result: Path) -> bool:
    try:
        schema = json.loads(result.read_bytes())["schema"]
    except (OSError, ValueError, KeyError, TypeError):
        return False
    return isinstance(schema, str) and schema.startswith("routesolar.")
