"""Write a result folder whole or not at all."""

import json
import os
import shutil
import signal
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from routesolar.errors import OutputError

TABLES = "csv-metadata.json"
OUR_NAMES = frozenset(
    {
        TABLES,
        "result.json",
        "page.html",
        "map.png",
        "card.png",
        "legs.csv",
        "days.csv",
        "segments.csv",
        "route.geojson",
        "route.kml",
        "route.gpx",
    }
    | {
        f"{command}.{kind}"
        for command in ("departures", "calendar", "compare", "size", "park", "breaks")
        for kind in ("csv", "png")
    }
)


def write_folder(folder: Path, contents: Mapping[str, bytes], *, force: bool) -> None:
    """Write the named `contents` into `folder`, all or none.

    They are first written beside it and then moved into place. A folder that holds anything is replaced only
    with `force`, and only if it is an earlier result of ours: it holds our result.json and nothing
    but names of ours. A run that was killed between the two moves is mended by the next one. Two runs into
    one folder go one after the other.

    Raises:
        OutputError: the folder exists and may not be replaced, or the disk refuses.
    """
    with _refusals_told(folder):
        folder = _resolved(folder)
        folder.parent.mkdir(parents=True, exist_ok=True)
        with _alone_in(folder.parent), _undisturbed():
            _mend(folder)
            _check_replaceable(folder, force=force)
            _swap_in(folder, contents)


def write_file(path: Path, content: bytes) -> None:
    """Write one file, whole or not at all.

    Raises:
        OutputError: the disk refuses.
    """
    fresh = _beside(path, "new")
    try:
        fresh.write_bytes(content)
        fresh.replace(path)
    except OSError as error:
        raise OutputError(f"{path} cannot be written ({error.strerror}); give another name or folder") from None
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)


def check_folder(folder: Path, *, force: bool) -> None:
    """Refuse a folder that `write_folder` would refuse, before work is done for it.

    Raises:
        OutputError: the folder exists and may not be replaced.
    """
    with _refusals_told(folder):
        _check_replaceable(_resolved(folder), force=force)


def _resolved(folder: Path) -> Path:
    folder = folder.resolve()
    if not folder.name:
        raise OutputError(f"{folder} is the root of the disk; give a folder inside it with -o")
    return folder


@contextmanager
def _refusals_told(folder: Path) -> Iterator[None]:
    try:
        yield
    except OutputError:
        raise
    except (OSError, RuntimeError) as error:  # RuntimeError: links that lead in a circle
        reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(f"{folder} cannot be written: {reason}; give another folder with -o") from error


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Hold other runs of ours off a folder; on systems and disks without such locks, go on."""
    try:
        import fcntl  # not on every system

        handle = os.open(folder, os.O_RDONLY)
    except (ImportError, OSError):
        yield
        return
    try:
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Hear an interruption only afterwards, so that it finds either the old folder or the new."""
    if threading.current_thread() is not threading.main_thread():  # signals go to the main thread only
        yield
        return
    heard: list[int] = []
    usual = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    for each in usual:
        signal.signal(each, lambda number, frame: heard.append(number))
    try:
        yield
    finally:
        for each, handler in usual.items():
            signal.signal(each, handler or signal.SIG_DFL)
        for number in heard:
            signal.raise_signal(number)


def _swap_in(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Move the contents in; once they are in place nothing calls them back."""
    fresh, aside = _beside(folder, "new"), _beside(folder, "old")
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
    if not any(folder.iterdir()):
        return
    if not force:
        raise OutputError(f"{folder} exists already; give another folder with -o, or replace it with --force")
    foreign = sorted(
        path.name
        for path in folder.iterdir()
        if path.name not in OUR_NAMES or path.is_symlink() or not path.is_file()
    )
    if foreign:
        raise OutputError(
            f"{folder} holds {foreign[0]!r}, which routesolar did not write, so --force does not replace it; "
            "give another folder with -o"
        )
    if not _is_ours(folder / "result.json"):
        raise OutputError(
            f"{folder} has no result.json from routesolar, so --force does not replace it; "
            "give another folder with -o"
        )


def _is_ours(result: Path) -> bool:
    try:
        schema = json.loads(result.read_bytes())["schema"]
    except (OSError, ValueError, KeyError, TypeError):
        return False
    return isinstance(schema, str) and schema.startswith("routesolar.")
