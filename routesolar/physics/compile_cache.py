"""A folder of machine code that is the user's own, and files in it that are checked before they are run.

Cached machine code is unpickled and run: whoever can write it runs as us, and a cut or flipped file ends the
process. So the folder must belong to the user and be closed to others' writing, every file carries its digest
and is written whole, and whatever does not hold is compiled anew.
"""

import atexit
import hashlib
import os
import pickle
import shutil
import stat
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from numba.core.caching import FunctionCache, IndexDataCacheFile

_DIGEST_BYTES = hashlib.sha256().digest_size


def usable_folder(name: str) -> Path | None:
    """Return the folder `name` in the user's cache area, else one for this run alone, else None."""
    try:
        base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or "~/.cache"
        here = Path(base).expanduser().resolve() / "routesolar" / name
        for folder in (here.parent, here):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not _is_ours_alone(folder):
                return _folder_for_this_run()
        with tempfile.TemporaryFile(dir=here):
            return here
    except (OSError, RuntimeError):  # RuntimeError: there is no home, or links lead in a circle
        return _folder_for_this_run()


def _is_ours_alone(folder: Path) -> bool:
    """Tell whether nobody else can put files into a folder (where the system numbers its users)."""
    found = folder.lstat()
    mine = not hasattr(os, "getuid") or found.st_uid == os.getuid()
    return mine and stat.S_ISDIR(found.st_mode) and not found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _folder_for_this_run() -> Path | None:
    try:
        folder = tempfile.mkdtemp(prefix="routesolar-")
    except OSError:
        return None
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return Path(folder)


class _CheckedFiles(IndexDataCacheFile):  # type: ignore[misc]
    """numba's index and data files of one function, each behind its own digest."""

    def _load_index(self) -> dict[Any, str]:
        found = _checked(Path(self._index_path))
        if found is None:
            return {}
        version, stamp, overloads = pickle.loads(found)
        fresh = (version, stamp) == (self._version, self._source_stamp)
        return dict(overloads) if fresh else {}

    def _save_index(self, overloads: dict[Any, str]) -> None:
        self._write(self._index_path, (self._version, self._source_stamp, overloads))

    def _load_data(self, name: str) -> Any:
        found = _checked(Path(self._data_path(name)))
        return None if found is None else pickle.loads(found)

    def _save_data(self, name: str, data: Any) -> None:
        self._write(self._data_path(name), data)

    def _write(self, path: str, value: Any) -> None:
        content = self._dump(value)
        with self._open_for_write(path) as file:
            file.write(hashlib.sha256(content).digest() + content)


def _checked(path: Path) -> bytes | None:
    """Return a file's content, None where it is missing, cut or changed."""
    try:
        found = path.read_bytes()
    except OSError:
        return None
    digest, content = found[:_DIGEST_BYTES], found[_DIGEST_BYTES:]
    return content if hashlib.sha256(content).digest() == digest else None


class CheckedCache(FunctionCache):  # type: ignore[misc]
    """numba's cache of one function in checked files; a disk that refuses costs speed, not the result."""

    def __init__(self, function: Callable[..., Any]) -> None:
        super().__init__(function)
        self._cache_file = _CheckedFiles(
            self._cache_path, self._impl.filename_base, self._impl.locator.get_source_stamp()
        )

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep the machine code of one signature where the disk takes it."""
        with suppress(OSError):
            super().save_overload(sig, data)
