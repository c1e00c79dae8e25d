"""Files beside a trip file: how they are named in it, and how new ones get there."""

import os
from collections.abc import Iterable
from pathlib import Path

from routesolar.errors import OutputError
from routesolar.files.folder import write_file


def found_beside(folder: Path, name: str) -> str:
    """Return where a file named in a trip file lies; a web address stays as it is."""
    return name if "://" in name else str(folder / name)


def named_beside(folder: Path, source: str) -> str:
    """Return how a trip file in a folder names a file, which found_beside then finds."""
    if "://" in source:
        return source
    if Path(source).is_absolute():
        inside = folder.is_absolute() and Path(source).is_relative_to(folder) and ".." not in Path(source).parts
        return Path(source).relative_to(folder).as_posix() if inside else source
    if not folder.is_absolute() and str(folder / os.path.relpath(source, folder)) == source:
        return os.path.relpath(source, folder)
    try:
        return Path(source).absolute().relative_to(folder.absolute()).as_posix()
    except ValueError:
        return str(Path(source).absolute())


def write_new(path: Path, text: str, *, force: bool) -> None:
    """Write a file that is not there yet; with `force` in the place of one that is.

    Raises:
        OutputError: it is there, or the disk refuses.
    """
    if path.exists() and not force:
        raise OutputError(f"{path} is there already; give another name, or force=True to replace it")
    write_file(path, text.encode())


def remove(paths: Iterable[Path]) -> None:
    """Remove files."""
    for path in paths:
        path.unlink(missing_ok=True)
