"""Compile a formula once and keep the machine code on disk.

numba's disk cache does not notice when a function imported from another file changes, so the cache
folder carries a fingerprint of all physics sources and of the libraries that compile them.
"""

import hashlib
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import numba
import numpy as np

from routesolar.physics.compile_cache import CheckedCache, usable_folder

_OPTIONS = {"nogil": True, "error_model": "numpy"}
F = TypeVar("F", bound=Callable[..., Any])


def fingerprint(folder: Path) -> str:
    """Return a short digest of every Python source in `folder` and of the compiler's versions."""
    digest = hashlib.sha256(f"{sys.version} {numba.__version__} {np.__version__}".encode())
    for source in sorted(folder.glob("*.py")):
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


@cache
def cache_folder() -> Path | None:
    """Return the folder that holds this version's machine code; None where no disk takes one."""
    return usable_folder(fingerprint(Path(__file__).parent))


def compiled(function: F) -> F:
    """Compile `function` on its first call, or load it from this version's cache folder.

    What it returns to Python is no named tuple, which would run Python to be made: an interrupt that came
    meanwhile would be raised there, where numba does not look for it, and crash the process.
    """
    dispatcher = numba.njit(**_OPTIONS)(function)
    folder = cache_folder()
    if folder is not None and hasattr(dispatcher, "enable_caching"):  # not with the compiler switched off
        dispatcher._cache = CheckedCache(function, folder)
    return dispatcher


def inlined(function: F) -> F:
    """Compile a step of a loop into the loops that call it, as if it stood there.

    It may not make or return arrays: who holds them is not counted. Counting costs several times the look-up,
    wherever arrays are handed on. Its machine code is kept with that of its callers.
    """
    inside: F = numba.njit(**_OPTIONS, forceinline=True, no_cfunc_wrapper=True, _nrt=False)(function)
    return inside
