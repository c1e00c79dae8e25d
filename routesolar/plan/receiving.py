"""A file on its way from the page into the session's folder: bounded, and never held whole."""

import filecmp
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import NamedTuple

from routesolar.errors import InputError, OutputError, UsageError
from routesolar.files.reading import printable
from routesolar.limits import limit_of

INCOMING = ".incoming_"  # how the names of files begin that have not arrived yet
_LOOKED_AT = 64  # bytes from which a kind is known
_SPARE_BYTES = 50_000_000  # that the disk is left with


class Kind(NamedTuple):
    """A kind of file that the page takes: what it is to a trip, its limit, and what its first bytes hold."""

    what: str
    limit: str
    begins: tuple[bytes, ...] = ()


_TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
# By the ends of their names, the longer before the shorter.
KINDS = {
    ".gpx": Kind("route", "route file"),
    ".toml": Kind("trip or rig", "trip or rig file"),
    ".csv": Kind("weather", "weather file"),
    ".epw": Kind("weather", "weather file"),
    ".tif": Kind("raster", "raster from the page", _TIFF),
    ".tiff": Kind("raster", "raster from the page", _TIFF),
    ".osm.pbf": Kind("map", "map file", (b"OSMHeader",)),
    ".pbf": Kind("map", "map file", (b"OSMHeader",)),
    ".osm": Kind("map", "map text", (b"<",)),
    ".geojson": Kind("map", "map text", (b"{",)),
    ".json": Kind("map", "map text", (b"{",)),
    ".gpkg": Kind("map", "map text", (b"SQLite format 3\0",)),
}


def ending_of(name: str) -> str:
    """Return by which ending a file's kind is known; UsageError for a kind that the page does not take."""
    for ending in KINDS:
        if name.lower().endswith(ending):
            return ending
    raise UsageError(
        f'"{printable(name, 60)}" is not a kind of file the page takes; drop a route (.gpx), a trip or rig '
        "file (.toml), weather (.csv, .epw), a raster (.tif) or a map (.osm.pbf, .osm, .geojson, .gpkg)"
    )


class Incoming:
    """A file that is being written under a name of its own; `path` is where."""

    def __init__(self, folder: Path, name: str) -> None:
        """Begin; UsageError for a kind that the page does not take."""
        self.name, self.kind = name, KINDS[ending_of(name)]
        self.path = folder / f"{INCOMING}{secrets.token_hex(8)}"
        self._limit_bytes, self._size, self._head = limit_of(self.kind.limit), 0, b""
        self._file = self.path.open("xb")

    def write(self, part: bytes) -> None:
        """Write what comes next.

        Raises:
            InputError: it is too large, or not what its name says. OutputError: the disk is full.
        """
        self.check_size(self._size + len(part))
        if len(self._head) < _LOOKED_AT:
            self._head += part[: _LOOKED_AT - len(self._head)]
            if len(self._head) == _LOOKED_AT:
                self._check_kind()
        try:
            self._file.write(part)
        except OSError as error:
            raise OutputError(f"{printable(self.name)} cannot be kept ({error.strerror})") from None
        self._size += len(part)

    def check_size(self, size: int) -> None:
        """Refuse what is larger than the limit on its kind, or than the disk has room for."""
        if size > self._limit_bytes:
            raise InputError(
                f"{printable(self.name, 80)}: larger than {self._limit_bytes / 1e6:g} MB; give a smaller file"
            )
        if size - self._size > shutil.disk_usage(self.path.parent).free - _SPARE_BYTES:
            raise OutputError(
                f"{printable(self.name, 80)}: the disk has no room for it; make some, and drop it again"
            )

    def arrive(self, path: Path) -> str:
        """Move it to a name, or to a free one where another file is there; return that name."""
        self._check_kind()
        self._file.close()
        for place in numbered(path):
            if not place.exists():
                self.path.replace(place)
                return place.name
            if place.is_file() and filecmp.cmp(place, self.path, shallow=False):
                self.path.unlink()
                return place.name
        raise AssertionError("numbers never end")

    def leave(self) -> None:
        """Take away what has not arrived."""
        self._file.close()
        self.path.unlink(missing_ok=True)

    def _check_kind(self) -> None:
        head = self._head.removeprefix(b"\xef\xbb\xbf").lstrip()
        if self.kind.begins and not any(mark in head for mark in self.kind.begins):
            raise InputError(
                f"{printable(self.name, 80)}: inside it is no {self.kind.what} of the kind that its name says; "
                "download or export it again"
            )


@contextmanager
def incoming(folder: Path, name: str) -> Iterator[Incoming]:
    """Receive a file within the block; what has not arrived at its end is taken away."""
    file = Incoming(folder, name)
    try:
        yield file
    finally:
        file.leave()


def numbered(path: Path) -> Iterator[Path]:
    """Yield a path, then the same with 2, 3, ... after its name."""
    yield path
    ending = next((ending for ending in KINDS if path.name.lower().endswith(ending)), path.suffix)
    stem = path.name[: len(path.name) - len(ending)]
    for number in count(2):
        yield path.with_name(f"{stem}_{number}{path.name[len(stem) :]}")
