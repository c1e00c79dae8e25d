"""Compile a formula once and keep the machine code on disk.

numba's disk cache does not notice when a function imported from another file changes, so the cache
folder carries a fingerprint of all physics sources and of the libraries that compile them.
"""

import hashlib
import os
import sys
import tempfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
import numpy as np

F = TypeVar("F", bound=Callable[..., Any])


def fingerprint(folder: Path) -> str:
    """Return a short digest of every Python source in `folder` and of the compiler's versions."""
    digest = hashlib.sha256(f"{sys.version} {numba.__version__} {np.__version__}".encode())
    for source in sorted(folder.glob("*.py")):
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


@cache
def cache_folder() -> Path:
    """Return the folder that holds this version's machine code, in the user's cache area."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or "~/.cache"
    here = Path(base).expanduser() / "routesolar" / fingerprint(Path(__file__).parent)
    try:
        here.mkdir(parents=True, exist_ok=True)
    except OSError:
        here = Path(tempfile.gettempdir()) / "routesolar" / here.name
        here.mkdir(parents=True, exist_ok=True)
    return here


def compiled(function: F) -> F:
    """Compile `function` on its first call, or load it from this version's cache folder."""
    theirs = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(cache_folder())
    try:
        return numba.njit(cache=True, nogil=True, error_model="numpy")(function)
    finally:
        numba.config.CACHE_DIR = theirs
