"""Pictures become palettes: every pixel takes the colour that is nearest to its own."""

import io
import zlib

import numpy as np
from matplotlib.figure import Figure

from routesolar.report.figures import figure_png


def chunks(png: bytes) -> dict[bytes, bytes]:
    """The chunks of a PNG by their kind."""
    stream, found = io.BytesIO(png[8:]), {}
    while head := stream.read(8):
        found[head[4:]] = stream.read(int.from_bytes(head[:4], "big"))
        stream.read(4)
    return found


def test_every_pixel_takes_the_nearest_colour_of_the_palette() -> None:
    noise = np.random.default_rng(1).integers(0, 256, (90, 120, 3), dtype=np.uint8)
    figure = Figure(figsize=(1.2, 0.9), dpi=100)
    figure.figimage(noise, origin="upper")
    parts = chunks(figure_png(figure, ["#102030"]))
    palette = np.frombuffer(parts[b"PLTE"], dtype=np.uint8).reshape(-1, 3).astype(np.int64)
    rows = np.frombuffer(zlib.decompress(parts[b"IDAT"]), dtype=np.uint8).reshape(90, 121)[:, 1:]
    apart = ((noise[:, :, None].astype(np.int64) - palette) ** 2).sum(axis=-1)
    taken = np.take_along_axis(apart, rows[..., None].astype(np.int64), axis=-1)[..., 0]
    assert palette[0].tolist() == [0x10, 0x20, 0x30]
    assert len(palette) == 256
    assert (taken == apart.min(axis=-1)).all()
