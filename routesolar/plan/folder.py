"""The one folder of a page's session: every file that the page names lies in it, and all is written there."""

import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from itertools import count
from pathlib import Path

from routesolar.errors import InputError, OutputError, UsageError
from routesolar.files.folder import write_file
from routesolar.files.reading import printable
from routesolar.files.stated import Stated
from routesolar.limits import limit_of

# Kinds of files by the ends of their names, and the limit on each.
KINDS = {
    ".gpx": "route file",
    ".toml": "trip or rig file",
    ".csv": "weather file",
    ".epw": "weather file",
    ".tif": "raster from the page",
    ".tiff": "raster from the page",
}
_NAME = re.compile(r"[^/\\\x00-\x1f\x7f]{1,120}")
_RIG = re.compile(r"^\s*\[\[panel\]\]", re.MULTILINE)


class Folder:
    """A folder and the files in it, by name alone."""

    def __init__(self, root: Path) -> None:
        """Take a folder, which is made if it is not there.

        Raises:
            OutputError: it cannot be made, or is no folder.
        """
        try:
            root.mkdir(parents=True, exist_ok=True)
            self.root = root.resolve()
        except OSError as error:
            raise OutputError(f"{root} cannot be used ({error.strerror}); give another --folder") from None

    def path(self, name: str) -> Path:
        """Return where a file of this name lies.

        Raises:
            UsageError: the name is none, or leads out of the folder.
        """
        if not isinstance(name, str) or not _NAME.fullmatch(name) or name.startswith("."):
            raise UsageError(
                f'"{printable(str(name), 60)}" is not the name of a file; leave out folders and dots'
            )
        path = self.root / name
        if path.resolve().parent != self.root:
            raise UsageError(f'"{printable(name, 60)}" leads out of the folder {self.root}')
        return path

    def keep(self, name: str, content: bytes) -> str:
        """Keep a file under its name, or under a free one where another is there; return that name.

        Raises:
            UsageError: the kind is not known, or the name is none. InputError: it is too large.
        """
        limit_bytes = limit_bytes_of(name)
        if len(content) > limit_bytes:
            raise InputError(f"{printable(name)}: larger than {limit_bytes / 1e6:g} MB; give a smaller file")
        for path in _numbered(self.path(name)):
            if not path.exists():
                write_file(path, content)
                return path.name
            if path.is_file() and path.read_bytes() == content:
                return path.name
        raise AssertionError("numbers never end")

    def drop(self, name: str) -> None:
        """Take away a file that turned out to be of no use."""
        self.path(name).unlink(missing_ok=True)

    def is_rig(self, name: str) -> bool:
        """Tell whether a TOML file holds a rig rather than a trip."""
        return bool(_RIG.search(self.path(name).read_text(encoding="utf-8", errors="replace")))

    def trips(self) -> list[str]:
        """Return the names of the trip files, the newest first."""
        files = [path for path in self.root.glob("*.toml") if path.is_file() and not path.name.startswith(".")]
        newest = sorted(files, key=lambda path: -path.stat().st_mtime)
        return [path.name for path in newest if not self.is_rig(path.name)]

    def check_inside(self, stated: Stated) -> None:
        """Refuse what names files elsewhere, or on the web.

        Raises:
            InputError: a file that is named lies outside, or is not there.
        """
        height = stated.canopy_height
        sources = [
            *stated.routes,
            stated.rig,
            stated.weather,
            *stated.canopy,
            *stated.terrain,
            *stated.surface,
            *stated.leaf_type,
            *stated.map,
        ]
        for source in [*sources, *([height] if isinstance(height, str) else [])]:
            if isinstance(source, str | Path):
                self._check_source(str(source))

    def _check_source(self, source: str) -> None:
        name = printable(source.removeprefix(f"{self.root}/"), 80)
        if "://" in source or Path(source).resolve().parent != self.root:
            raise InputError(
                f"the trip names {name}, which is not in the folder of this page ({self.root}); on the command "
                "line it may stay where it is"
            )
        if not Path(source).exists():
            raise InputError(
                f"the trip names {name}, which is not here yet; drop it on the page together with the trip"
            )

    def leave(self) -> None:
        """Take the folder away if nothing was put into it."""
        with suppress(OSError):
            self.root.rmdir()


def fresh_folder(beside: Path) -> Path:
    """Return a folder for today that is not there yet: plan_2026-11-20, then plan_2026-11-20_2."""
    return next(path for path in _numbered(beside / f"plan_{date.today().isoformat()}") if not path.exists())


def limit_bytes_of(name: str) -> int:
    """Return how large a file of this name may be; UsageError for a kind that the page does not take."""
    kind = KINDS.get(Path(name).suffix.lower())
    if kind is None:
        raise UsageError(
            f'"{printable(name, 60)}" is not a kind of file the page takes; drop a route (.gpx), a trip or rig '
            "file (.toml), weather (.csv, .epw) or a raster (.tif)"
        )
    return limit_of(kind)


def _numbered(path: Path) -> Iterator[Path]:
    yield path
    for number in count(2):
        yield path.with_name(f"{path.stem}_{number}{path.suffix}")
