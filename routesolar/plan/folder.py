"""The one folder of a page's session: every file that the page names lies in it, and all is written there."""

import re
from contextlib import AbstractContextManager, suppress
from datetime import date
from pathlib import Path

from routesolar.errors import InputError, OutputError, UsageError
from routesolar.files.reading import printable
from routesolar.files.stated import Stated
from routesolar.plan.receiving import INCOMING, Incoming, incoming, numbered

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
            for left in self.root.glob(f"{INCOMING}*"):  # by a session that was killed
                left.unlink()
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

    def receive(self, name: str) -> AbstractContextManager[Incoming]:
        """Receive a file within a block; what has not arrived at its end is taken away.

        Raises:
            UsageError: the kind is not known, or the name is none.
        """
        self.path(name)
        return incoming(self.root, name)

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
    return next(path for path in numbered(beside / f"plan_{date.today().isoformat()}") if not path.exists())
