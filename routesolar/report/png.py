"""Small pictures for a page: a palette PNG written without an imaging library."""

import struct
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from routesolar.trip.arrays import FloatArray
from routesolar.trip.harvest_report import CanopyPicture

_MOST_CELLS = 250_000
_LEVELS = 8
_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def palette_png(index: NDArray[np.uint8], palette: Sequence[tuple[int, int, int, int]]) -> bytes:
    """Return a PNG (ISO/IEC 15948) whose pixels are palette entries, each red, green, blue, opacity."""
    height, width = index.shape
    colours = bytes(part for entry in palette for part in entry[:3])
    opacities = bytes(entry[3] for entry in palette)
    rows = np.zeros((height, width + 1), dtype=np.uint8)  # a leading 0: the row is not filtered
    rows[:, 1:] = index
    return _SIGNATURE + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        for kind, body in (
            (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)),
            (b"PLTE", colours),
            (b"tRNS", opacities),
            (b"IDAT", zlib.compress(rows.tobytes(), 9)),
            (b"IEND", b""),
        )
    )


def canopy_png(picture: CanopyPicture, rgb: tuple[int, int, int]) -> bytes:
    """Return tree cover as a PNG of one colour, the more opaque the denser; unknown is clear."""
    cover = np.clip(np.nan_to_num(_shrunk(picture.cover_frac.astype(np.float64))), 0, 1)
    index = np.round(cover * (_LEVELS - 1)).astype(np.uint8)
    return palette_png(index, [(*rgb, round(190 * level / (_LEVELS - 1))) for level in range(_LEVELS)])


def _shrunk(cover: FloatArray) -> FloatArray:
    """Return the mean of square blocks, just large enough for a page to carry the picture."""
    block = int(np.ceil(np.sqrt(cover.size / _MOST_CELLS)))
    if block <= 1:
        return cover
    rows, cols = (side // block * block for side in cover.shape)
    blocks = np.nan_to_num(cover[:rows, :cols]).reshape(rows // block, block, cols // block, block)
    mean: FloatArray = blocks.mean(axis=(1, 3))
    return mean
