"""Figures as small PNG files."""

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from numpy.typing import NDArray

from routesolar.report.charts import INK
from routesolar.report.png import palette_png
from routesolar.trip.arrays import IntArray

_COLOURS = 256  # as many as a palette holds
_AT_ONCE = 4096  # colours compared with a palette: some megabytes
_CUBE = 0xF8F8F8  # of red, green and blue, the bits that say which cube


@contextmanager
def our_look(letters_pt: float) -> Iterator[None]:
    """Draw within in our own look, whatever style the machine has; names may use letters that no font has."""
    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update(
            {"font.size": letters_pt, "axes.linewidth": 0.7, "text.color": INK, "text.parse_math": False}
        )
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        yield


def figure_png(figure: Figure, kept: Sequence[str] = ()) -> bytes:
    """Return a figure as a palette PNG: a third of the bytes, and hardly a difference to be seen.

    The palette holds the `kept` colours, which stand for values, and then the most frequent of each small
    cube of colours, the fullest cubes first; any other becomes the nearest of these.
    """
    canvas = FigureCanvasAgg(figure)
    canvas.draw()  # type: ignore[no-untyped-call]
    pixels = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
    runs, lengths = _runs(pixels)
    codes = np.unique(runs)
    where = np.searchsorted(codes, runs)  # half the time of sorting places with the colours
    count = np.bincount(where, lengths).astype(np.int64)
    frequent = codes[np.argsort(-count, kind="stable")]
    cubes, first, cube = np.unique(frequent & _CUBE, return_index=True, return_inverse=True)
    filled = np.bincount(cube, np.sort(count)[::-1], len(cubes))
    most = frequent[first[np.argsort(-filled, kind="stable")]]
    stated = [round(255 * part) for colour in kept for part in to_rgb(colour)]
    palette = np.concatenate([np.array(stated, dtype=np.int64).reshape(-1, 3), _split(most)])[:_COLOURS]
    index = np.repeat(_nearest(palette, _split(codes))[where], lengths).reshape(pixels.shape[:2])
    shades = [(red, green, blue, 255) for red, green, blue in palette.tolist()]
    return palette_png(index, shades, figure.dpi)


def _runs(pixels: NDArray[np.uint8]) -> tuple[IntArray, IntArray]:
    """Return the colours of a picture (h, w, 4) as one number each, and how many pixels in a row have each."""
    coded = pixels[..., 0].astype(np.int32)
    for part in (1, 2):
        coded <<= 8
        coded |= pixels[..., part]
    flat = coded.ravel()
    begins = np.concatenate([[0], np.flatnonzero(flat[1:] != flat[:-1]) + 1])
    return flat[begins].astype(np.int64), np.diff(begins, append=flat.size)


def _nearest(palette: IntArray, colours: IntArray) -> NDArray[np.uint8]:
    """Return for each of the colours (n, 3) which of the palette's (k, 3) is nearest, the first among equals.

    All sums are whole numbers below 2^24, which float32 holds exactly in whatever order they are added.
    """
    of, among = colours.astype(np.float32), palette.astype(np.float32)
    found = np.empty(len(of), dtype=np.uint8)
    for first in range(0, len(of), _AT_ONCE):
        part = slice(first, first + _AT_ONCE)
        found[part] = np.argmin((among**2).sum(axis=1) - 2 * of[part] @ among.T, axis=1)
    return found


def _split(codes: IntArray) -> IntArray:
    """Return colours written as one number each as red, green, blue."""
    return np.stack([codes >> 16, codes >> 8 & 255, codes & 255], axis=-1)
