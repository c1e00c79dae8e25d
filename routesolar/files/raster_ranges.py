"""Find out whether a web server keeps its word about parts of files; raster libraries take it on trust."""

from http.client import HTTPException
from urllib.request import Request, urlopen

from routesolar.errors import InputError

PROBE_BYTES = 8192
PATIENCE_S = 20.0


def check_ranges(address: str, name: str) -> None:
    """Raise InputError where a server sends other bytes than asked for; shifted bytes would pass for data.

    The file's first bytes are asked for, then the second half of these once more. A server that refuses or
    stalls is left to the reader of the raster, which says so; an address with a password in it is not checked.
    """
    half = PROBE_BYTES // 2
    try:
        whole, again = (_part(address, first) for first in (0, half))
    except (OSError, ValueError, HTTPException):
        return
    if whole is not None and again is not None and again != whole[half:]:
        raise InputError(
            f"{name} cannot be read (its server sends other parts of the file than it is asked for); check the "
            "address, or download the file"
        )


def _part(address: str, first: int) -> bytes | None:
    """Return the file's bytes from `first` to the end of the probe; None where the server sends no parts."""
    wanted = Request(address, headers={"Range": f"bytes={first}-{PROBE_BYTES - 1}"})
    with urlopen(wanted, timeout=PATIENCE_S) as answer:
        content: bytes = answer.read(PROBE_BYTES + 1)
        return content if answer.status == 206 else None
