"""Digests of what an answer is computed from: equal where nothing that counts has changed."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.errors import InputError
from routesolar.files.raster_source import is_remote, source_file
from routesolar.files.reading import printable


def digest_of(value: Any) -> str:
    """Return a digest of nouns, arrays, numbers, texts and collections of these, alike in every process.

    Fields that do not count when nouns are compared, such as where a file lay, do not count here.
    """
    digest = hashlib.sha256()
    for piece in _pieces(value):
        digest.update(len(piece).to_bytes(8, "big"))
        digest.update(piece)
    return digest.hexdigest()


def source_digest(source: str) -> str:
    """Return what tells that a raster or map has changed: its content's hash, size and time of very large ones.

    A web address stands for itself.

    Raises:
        InputError: the file cannot be read.
    """
    if is_remote(source):
        return source
    try:
        if found := source_file(source).sha256:
            return found
        state = Path(source).stat()
    except (OSError, ValueError):
        raise InputError(f"{printable(source)}: cannot be read; check the spelling and the folder") from None
    return f"{state.st_size} {state.st_mtime_ns}"


def _pieces(value: Any) -> Iterator[bytes]:
    if isinstance(value, np.ndarray):
        yield f"{value.dtype.str} {value.shape}".encode()
        yield value.tobytes()
    elif is_dataclass(value) and not isinstance(value, type):
        yield type(value).__name__.encode()
        for field in fields(value):
            if field.compare:
                yield field.name.encode()
                yield from _pieces(getattr(value, field.name))
    elif isinstance(value, Mapping):
        yield f"{len(value)} keys".encode()
        for key, item in value.items():
            yield from _pieces(key)
            yield from _pieces(item)
    elif isinstance(value, tuple | list):
        yield f"{len(value)} items".encode()
        for item in value:
            yield from _pieces(item)
    else:
        yield repr(value).encode()
