"""Get the bytes of a small text file, or one clear message. Lower than every other module of files/."""

import hashlib
from os import PathLike
from pathlib import Path

from routesolar.errors import InputError
from routesolar.trip import names
from routesolar.trip.route import SourceFile

PathText = str | PathLike[str]  # how people name files

_REASONS: dict[type[OSError], str] = {
    FileNotFoundError: "there is no such file; check the spelling and the folder",
    IsADirectoryError: "this is a folder; name the file in it",
    PermissionError: "this file cannot be opened; check its permissions",
}


def read_whole(path: Path, limit_bytes: int) -> bytes:
    """Return the file's bytes; InputError if it is missing, unreadable, empty or larger than the limit."""
    try:
        if path.exists() and not path.is_file() and not path.is_dir():  # to read them may take for ever
            raise InputError(f"{printable(str(path))}: this is a pipe or a device; save it as a file")
        with path.open("rb") as opened:
            content = opened.read(limit_bytes + 1)
    except InputError:
        raise
    except OSError as error:
        reason = _REASONS.get(type(error), f"it cannot be read ({error.strerror or error})")
        if str(path).startswith(("http:", "https:")):
            reason = "only rasters are read from the web; download this file first"
        raise InputError(f"{path}: {reason}") from None
    except ValueError:  # a name no file can have, such as one with a NUL in it
        raise InputError(f"{printable(str(path))}: this is not a file name") from None
    if len(content) > limit_bytes:
        raise InputError(f"{path}: larger than {limit_bytes / 1e6:g} MB; give a smaller file")
    if not content.strip():
        raise InputError(f"{path}: the file is empty; save or download it again")
    return content


def source_file(path: Path, content: bytes) -> SourceFile:
    """Return the file's name and digest, for the record of what went into a result."""
    return SourceFile(name=path.name, sha256=hashlib.sha256(content).hexdigest(), path=str(path))


def printable(text: str, limit: int = 200) -> str:
    """Return strangers' text on one line, safe to show in a message, cut to `limit` characters."""
    plain = names.printable(text[: 4 * limit])
    return plain if len(plain) <= limit else plain[: limit - 1] + "…"
