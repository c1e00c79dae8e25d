"""Small pictures for a page: a palette PNG written without an imaging library."""

import struct
import zlib
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from routesolar.physics.hillshade import FLAT_FRAC
from routesolar.trip.arrays import FloatArray
from routesolar.trip.ground import MapPicture

_MOST_BYTES = 20_000
_LEVELS = 8
_LIGHT, _SHADOW = 120, 165  # most opaque, of 255
UNKNOWN = (119, 124, 134, 110)  # red, green, blue, opacity of what is not known
_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def palette_png(
    index: NDArray[np.uint8], palette: Sequence[tuple[int, int, int, int]], dpi: float = 0.0
) -> bytes:
    """Return a PNG (ISO/IEC 15948) whose pixels are palette entries, each red, green, blue, opacity.

    `dpi` gives its size on paper; 0 leaves that open.
    """
    height, width = index.shape
    per_m = round(dpi / 0.0254)
    colours = bytes(part for entry in palette for part in entry[:3])
    opacities = bytes(entry[3] for entry in palette)
    rows = np.zeros((height, width + 1), dtype=np.uint8)  # a leading 0: the row is not filtered
    rows[:, 1:] = index
    return _SIGNATURE + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        for kind, body in (
            (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)),
            *([(b"pHYs", struct.pack(">IIB", per_m, per_m, 1))] if per_m else []),
            (b"PLTE", colours),
            (b"tRNS", opacities),
            (b"IDAT", zlib.compress(rows.tobytes())),
            (b"IEND", b""),
        )
    )


def canopy_png(trees: MapPicture, rgb: tuple[int, int, int]) -> bytes:
    """Return tree cover as a PNG of one colour, the more opaque the denser; what is unknown is hatched."""
    top = _LEVELS - 1
    palette = [*((*rgb, round(190 * level / top)) for level in range(_LEVELS)), UNKNOWN]

    def drawn(scale: float) -> bytes:
        shrunk = _shrunk(trees.values, scale)
        level = np.round(np.clip(np.nan_to_num(shrunk), 0, 1) * top)
        return palette_png(np.where(hatched(shrunk), _LEVELS, level).astype(np.uint8), palette)

    return _small(drawn)


def hatched(values: NDArray[np.floating[Any]]) -> NDArray[np.bool_]:
    """Return which pixels of unknown value are drawn: one slanted line in five."""
    row, col = np.indices(values.shape)
    lines: NDArray[np.bool_] = np.isnan(values) & ((row + col) % 5 == 0)
    return lines


def relief_png(relief: MapPicture) -> bytes:
    """Return shaded relief as a PNG: shadow in black, light in white; level and unknown ground is clear."""
    sides = range(-_LEVELS, _LEVELS + 1)
    palette = [_shading(level / _LEVELS) for level in sides]

    def drawn(scale: float) -> bytes:
        level = np.round(_LEVELS * _from_level(_shrunk(relief.values, scale)))
        return palette_png((level + _LEVELS).astype(np.uint8), palette)

    return _small(drawn)


def relief_rgba(shade_frac: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return shaded relief as an RGBA picture, as `relief_png` has it."""
    palette = np.array([_shading(level / 127) for level in range(-127, 128)], dtype=np.uint8)
    return palette[np.round(127 * _from_level(shade_frac)).astype(np.int64) + 127]


def _from_level(shade_frac: NDArray[np.floating[Any]]) -> FloatArray:
    """Return shade as -1 (all shadow) to 1 (facing the light), 0 on level and unknown ground."""
    apart = np.nan_to_num(shade_frac.astype(np.float64), nan=FLAT_FRAC) - FLAT_FRAC
    return np.clip(np.where(apart < 0, apart / FLAT_FRAC, apart / (1 - FLAT_FRAC)), -1, 1)


def _shading(side: float) -> tuple[int, int, int, int]:
    return (255, 255, 255, round(_LIGHT * side)) if side > 0 else (0, 0, 0, round(-_SHADOW * side))


def _small(drawn: Callable[[float], bytes]) -> bytes:
    """Return a picture small enough for a page to carry it, drawn to the largest scale that allows it."""
    scale = 1.0
    while len(png := drawn(scale)) > _MOST_BYTES:
        scale *= 0.85
    return png


def _shrunk(values: NDArray[np.float32], scale: float) -> FloatArray:
    """Return fewer rows and columns, each the mean of the known values in its place, NaN where none is."""
    rows, cols = (np.arange(count := max(1, round(scale * side))) * side // count for side in values.shape)
    known = np.isfinite(values)
    total, count = (
        np.add.reduceat(np.add.reduceat(part, rows, axis=0), cols, axis=1)
        for part in (np.where(known, values, 0.0), known.astype(np.float64))
    )
    mean: FloatArray = np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)
    return mean
