"""Open one raster, from a file or a web address; whatever is wrong with it becomes one clear InputError.

Only formats whose pixels lie in the files themselves are read: a virtual raster (VRT) names others, on the web,
in any file or pipe, and is refused. The web is used only for an address the user gave, of a GeoTIFF.
"""

import hashlib
import logging
import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
import rasterio
from rasterio import Affine
from rasterio._err import CPLE_BaseError
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.io import DatasetReader

from routesolar.errors import InputError
from routesolar.files.raster_tiles import extent
from routesolar.files.reading import printable
from routesolar.limits import RASTER_DRIVERS, WEB_DRIVERS, limit_of
from routesolar.trip.route import SourceFile

logging.getLogger("rasterio").addHandler(logging.NullHandler())  # GDAL's chatter reaches us as exceptions

HTTP_TIMEOUT_S = 20  # a request, and a stall within it; a tile is some 100 kB
HASHED_BYTES = 1 << 30  # larger files are not hashed: only their touched tiles are read
_TEXT_GRID = "AAIGrid"
_LEAST_TEXT_BYTES = 2  # a digit and a blank
_PICTURE_COLOURS = {"red", "green", "blue"}


def is_remote(source: str) -> bool:
    """Return True for a web address (http or https)."""
    return source.lower().startswith(("http://", "https://"))


def display_name(source: str) -> str:
    """Return the name to show: a file's own name, or a web address without credentials and query."""
    if not is_remote(source):
        return Path(source).name
    try:
        parts = urlsplit(source)
        port = f":{parts.port}" if parts.port else ""
    except ValueError:  # a port or a bracket that no address has
        return printable(source.partition("?")[0].rpartition("@")[2], 60)
    return f"{parts.scheme}://{parts.hostname or ''}{port}{parts.path}"


def source_file(source: str) -> SourceFile:
    """Return the name and SHA-256 of a source; the hash is empty for web addresses and files over 1 GiB."""
    digest = ""
    if not is_remote(source):
        state = Path(source).stat()
        if state.st_size <= HASHED_BYTES:
            digest = _sha256(str(Path(source).absolute()), state.st_size, state.st_mtime_ns)
    return SourceFile(name=display_name(source), sha256=digest)


@lru_cache(maxsize=64)
def _sha256(path: str, size: int, changed_ns: int) -> str:
    """Return the digest of a file, which is read again only when it has changed."""
    with Path(path).open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


@contextmanager
def opened(source: str) -> Iterator[Any]:
    """Yield the open rasterio dataset of `source`, checked for what placing it on Earth needs.

    Raises:
        InputError: the file is missing, is no raster, has no CRS or no position, or cannot be read to its
            end; the web server is silent, slow, refuses, or does not serve parts of a file.
    """
    name = display_name(source)
    if is_remote(source):
        _check_address(source, name)
    else:
        _check_file(source)
    with rasterio.Env(**_gdal_options(source)), _one_message(name, is_remote(source)):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", NotGeoreferencedWarning)  # _check_place says it better
            # unlike rasterio.open, the class takes several drivers
            if is_remote(source):
                dataset = DatasetReader(f"/vsicurl/{source}", driver=list(WEB_DRIVERS))
            else:
                dataset = DatasetReader(source, driver=list(RASTER_DRIVERS))
        with dataset:
            _check_place(dataset, name)
            _check_bands(dataset, name)
            _check_text_length(dataset, source, name)
            yield dataset


def _check_address(source: str, name: str) -> None:
    """Raise InputError unless a web address has a host and, if any, a port that can be."""
    try:
        parts = urlsplit(source)
        right = bool(parts.hostname) and parts.port != 0 and printable(source, len(source)) == source
    except ValueError:
        right = False
    if not right:
        raise InputError(f"{name}: this is not a web address; check its host, port and brackets")


def _check_file(source: str) -> None:
    """Raise InputError unless there is a file of this name."""
    if not source.strip():
        raise InputError("a raster has an empty name; give its path or address")
    try:
        is_folder, is_file = Path(source).is_dir(), Path(source).is_file()
    except OSError as error:
        raise InputError(f"{printable(source)}: this is not a valid file name ({error.strerror})") from None
    if is_folder:
        raise InputError(f"{source}: this is a folder; name the raster in it")
    if not is_file:
        way = "give an http:// or https:// address, or a file" if "://" in source else "check the path"
        raise InputError(f"{printable(source)}: there is no such file; {way}")
    with Path(source).open("rb") as stream:
        if b"<VRT" in stream.read(1000):
            raise InputError(
                f"{printable(source)} is a virtual raster, which only points to other files; give those files "
                "themselves (the option may be repeated), or make one GeoTIFF of them"
            )


def _gdal_options(source: str) -> dict[str, Any]:
    """Return the GDAL settings for a source: bounded memory and times, no web for local files."""
    if not is_remote(source):
        return {"GDAL_CACHEMAX": limit_of("raster cache"), "CPL_VSIL_CURL_ALLOWED_FILENAME": "none"}
    return {
        "GDAL_CACHEMAX": limit_of("raster cache"),
        "GDAL_HTTP_TIMEOUT": HTTP_TIMEOUT_S,
        "GDAL_HTTP_CONNECTTIMEOUT": HTTP_TIMEOUT_S,
        "GDAL_HTTP_LOW_SPEED_TIME": HTTP_TIMEOUT_S,
        "GDAL_HTTP_LOW_SPEED_LIMIT": 1,
        "GDAL_HTTP_MAX_RETRY": 0,
        "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",  # do not look for companion files on the server
        "CPL_VSIL_CURL_NON_CACHED": f"/vsicurl/{source}",  # a failure must not outlive its cause
    }


@contextmanager
def _one_message(name: str, remote: bool) -> Iterator[None]:
    """Turn every failure inside rasterio into an InputError that names the raster and the cause."""
    try:
        yield
    except (RasterioError, CPLE_BaseError) as error:
        cause = printable(str(error.__cause__ or error).strip().rstrip("."), 200)
        remedy = (
            "check the address, and that the server answers and serves parts of files; or download the file"
            if remote
            else "the file may be cut short or not be a raster; copy or download it again"
        )
        raise InputError(f"{name} cannot be read ({cause}); {remedy}") from error


def _check_place(dataset: Any, name: str) -> None:
    """Raise InputError unless the raster says where on Earth it lies, in units that can be true."""
    if dataset.crs is None:
        raise InputError(
            f"{name} has no coordinate reference system, so its place on Earth is unknown; export it again "
            "with its CRS, or add it with: gdal_edit.py -a_srs EPSG:nnnn FILE"
        )
    size = abs(dataset.transform.determinant)
    is_placed = not dataset.transform.is_identity and size and math.isfinite(size)
    # Cells may be so small that there is no number for how many make a degree.
    if not is_placed or not np.isfinite(~dataset.transform).all():
        raise InputError(f"{name} has no position (geotransform); export it again as a georeferenced raster")
    crs = printable(str(dataset.crs), 60)
    if not (dataset.crs.is_geographic or dataset.crs.is_projected):
        raise InputError(
            f"{name} is placed in {crs}, neither degrees on Earth nor a map of it (a local or vertical "
            "system); export it again with the CRS it was made in"
        )
    box = extent(dataset, dataset.crs, Affine.identity())
    left, bottom, right, top = box.left, box.top, box.right, box.bottom  # rows count upwards here
    looks_degrees = max(abs(left), abs(right)) <= 360 and max(abs(bottom), abs(top)) <= 90
    span = f"x {left:.6g} to {right:.6g}, y {bottom:.6g} to {top:.6g}"
    if dataset.crs.is_geographic and not looks_degrees:
        raise InputError(
            f"{name} says its coordinates are degrees ({crs}), but they are {span}; "
            "its CRS is wrong: assign the projected CRS it was made in"
        )
    if not dataset.crs.is_geographic and looks_degrees:
        raise InputError(
            f"{name} says its coordinates are metres ({crs}), but they look like degrees ({span}); "
            "its CRS is wrong: assign EPSG:4326"
        )


def _check_text_length(dataset: Any, source: str, name: str) -> None:
    """Raise InputError for a grid of text too short for its cells, which GDAL would seek for minutes."""
    cells = dataset.width * dataset.height
    if dataset.driver == _TEXT_GRID and Path(source).stat().st_size < _LEAST_TEXT_BYTES * cells - 1:
        raise InputError(
            f"{name} says it has {dataset.width} x {dataset.height} cells but is too short to hold them; "
            "copy or download it again"
        )


def _check_bands(dataset: Any, name: str) -> None:
    """Raise InputError for a picture (red, green, blue), which holds colours and no measured values."""
    colours = {colour.name for colour in dataset.colorinterp}
    if colours >= _PICTURE_COLOURS:
        raise InputError(f"{name} is a colour picture, not a raster of values; give the data it was drawn from")
