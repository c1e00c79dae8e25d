"""What the numbers of a raster mean: cover as a fraction, heights and elevations in metres.

Pixels masked by a nodata tag, an alpha or a mask band are NaN before they come here. What a coding cannot
mean (cover over 100 %, trees over 120 m) becomes NaN as well, never 0.
"""

from dataclasses import dataclass, replace

import numpy as np

from routesolar.arrays import Tiles
from routesolar.errors import InputError

MAX_CODES = 20  # more different values over 100 than this are not codes for "no data"
METRES = {
    "": 1.0,
    **dict.fromkeys(("m", "metre", "meter", "metres", "meters"), 1.0),
    **dict.fromkeys(("dm", "decimetre", "decimeter", "decimetres", "decimeters"), 0.1),
    **dict.fromkeys(("cm", "centimetre", "centimeter", "centimetres", "centimeters"), 0.01),
    **dict.fromkeys(("ft", "foot", "feet"), 0.3048),
    **dict.fromkeys(("us-ft", "ftus", "us survey foot"), 1200 / 3937),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """What a raster declares about its first band."""

    name: str
    integer: bool
    scale: float = 1.0
    offset: float = 0.0
    unit: str = ""

    @property
    def plain_integer(self) -> bool:
        """True for whole numbers without a scale: they mean what they say."""
        return self.integer and self.scale == 1.0 and self.offset == 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coding:
    """value = raw * factor + offset; outside `low`..`high` there is no data; then clipped at `floor`.

    `possible` words the range for people; empty where values outside it are ordinary codes for no data. A
    larger share of impossible values than `bearable_frac` tells of another unit.
    """

    factor: float
    offset: float
    low: float
    high: float
    floor: float
    possible: str = ""
    bearable_frac: float = 0.5

    def decode(self, tile: Tiles) -> int:
        """Decode raw values in place, NaN where outside the possible range; return how many are left."""
        tile *= np.float32(self.factor)
        tile += np.float32(self.offset)
        tile[~((tile >= self.low) & (tile <= self.high))] = np.nan
        np.maximum(tile, np.float32(self.floor), out=tile)
        return int(np.isfinite(tile).sum())


class Seen:
    """A tally of the raw values of one raster, gathered tile by tile: what the coding is judged on."""

    def __init__(self) -> None:
        """Start with nothing seen."""
        self.known = 0
        self.maximum_to_100 = -np.inf
        self.to_1, self.over_1 = 0, 0
        self.over_100: set[float] = set()

    def add(self, raw: Tiles, band: Band) -> None:
        """Count the known values of a tile."""
        values = raw[np.isfinite(raw)]
        self.known += values.size
        scaled = values if band.plain_integer else values * band.scale + band.offset
        plausible = (scaled >= 0) & (scaled <= 100)
        self.maximum_to_100 = float(np.max(scaled, where=plausible, initial=self.maximum_to_100))
        self.to_1 += int(((scaled > 0) & (scaled <= 1)).sum())
        self.over_1 += int(((scaled > 1) & (scaled <= 100)).sum())
        if len(self.over_100) <= MAX_CODES:
            self.over_100.update(np.unique(scaled[(scaled > 100) & (scaled < 256)]).tolist())


def cover_coding(band: Band, seen: Seen) -> tuple[Coding, tuple[str, ...]]:
    """Return how to read cover as a fraction, with warnings.

    Whole numbers are percent, 101-255 no data. Decimal (or scaled) numbers are fractions if none of those
    read exceeds 1, else percent; the judgement is made on the tiles along the route, per file.

    Raises:
        InputError: whole numbers that run on past 100, as if scaled to 0-255.
    """
    percent, fraction = (0.01, 0.0, 1.000001), (1.0, 0.0, 1.000001)
    factor, low, high = percent
    notes: tuple[str, ...] = ()
    if band.plain_integer:
        if len(seen.over_100) > MAX_CODES:
            raise InputError(
                f"{band.name} holds many different values over 100, so it is not percent of cover; "
                "rescale it to 0-100 and use 255 for no data"
            )
        if seen.maximum_to_100 == 1:
            notes = (
                f"{band.name}: no value along the route exceeds 1, read as 1 percent of cover; "
                "if 1 stands for trees, multiply the raster by 100",
            )
    elif seen.maximum_to_100 <= 1.000001:
        factor, low, high = fraction
    elif seen.maximum_to_100 <= 2 or seen.to_1 > seen.over_1:
        notes = (
            f"{band.name}: the largest value along the route is {seen.maximum_to_100:.4g}, so it is read as "
            "percent of cover, although many are under 1; if these are fractions, cap the raster at 1",
        )
    coding = Coding(factor=factor * band.scale, offset=factor * band.offset, low=low, high=high, floor=0.0)
    return coding, notes


def height_coding(band: Band, seen: Seen) -> tuple[Coding, tuple[str, ...]]:
    """Return how to read tree heights in metres by the declared scale, offset and unit; 0-120 m is possible.

    Canopy surface models carry small negative noise: down to -0.5 m counts as 0. Many different values above
    100 are no codes: on half-open land even a twentieth of impossible ones tells of decimetres.

    Raises:
        InputError: a unit that is no length.
    """
    coding = _length_coding(band, low=-0.5, high=120.0, floor=0.0, possible="0 to 120 m")
    return replace(coding, bearable_frac=0.05 if len(seen.over_100) > MAX_CODES else 0.5), ()


def elevation_coding(band: Band, seen: Seen) -> tuple[Coding, tuple[str, ...]]:
    """Return how to read elevations in metres by the declared scale, offset and unit.

    From -500 to 9000 m is possible.

    Raises:
        InputError: a unit that is no length.
    """
    return _length_coding(band, low=-500.0, high=9000.0, floor=-500.0, possible="-500 to 9000 m"), ()


def judge_range(name: str, coding: Coding, known: int, impossible: int) -> tuple[str, ...]:
    """Return a warning for values that no tree or mountain can have, or none.

    Raises:
        InputError: so many values are impossible that they cannot be in the unit assumed.
    """
    if not impossible or not coding.possible:
        return ()
    share = impossible / known
    if share > coding.bearable_frac:
        raise InputError(
            f"{name}: {share:.0%} of its values along the route are outside {coding.possible}; if they are "
            "decimetres or centimetres, declare it in the raster (gdal_edit.py -scale 0.1 FILE); if they mark "
            "no data, tag them (gdal_edit.py -a_nodata VALUE FILE)"
        )
    return (f"{name}: {share:.2%} of its values along the route are outside {coding.possible}: no data",)


def _length_coding(band: Band, *, low: float, high: float, floor: float, possible: str) -> Coding:
    metres = METRES.get(band.unit.strip().lower())
    if metres is None:
        raise InputError(f"{band.name}: its unit is {band.unit!r}; use metre, decimetre, centimetre or foot")
    factor, offset = band.scale * metres, band.offset * metres
    return Coding(factor=factor, offset=offset, low=low, high=high, floor=floor, possible=possible)
