"""How many panels of a size fit on a roof, lying along it, across it, or both."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import chain, combinations, product
from typing import NamedTuple

from routesolar.errors import UsageError

GAP_M = 0.02  # between panels, for their clamps; common practice, no source
MOST_PANELS = 40
_HAIR_M = 1e-9


class PanelPlace(NamedTuple):
    """A panel on the roof: its corner's distance from the rear and from the left edge, and its size there."""

    along_m: float
    across_m: float
    length_m: float
    width_m: float


class Offer(NamedTuple):
    """A panel that could be bought."""

    rated_w: float
    length_m: float
    width_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofFit:
    """How a panel fits: places all along the roof, all across it, and the most with both mixed.

    Mixed is the most of all layouts in five blocks, one in the middle of four, each parted by straight cuts.
    """

    roof_length_m: float
    roof_width_m: float
    offer: Offer
    along: tuple[PanelPlace, ...]
    across: tuple[PanelPlace, ...]
    mixed: tuple[PanelPlace, ...]

    @property
    def rated_w(self) -> float:
        """The most watts of this panel that the roof takes."""
        return len(self.mixed) * self.offer.rated_w


def fit_roof(
    roof_length_m: float, roof_width_m: float, offers: list[Offer], gap_m: float = GAP_M
) -> tuple[RoofFit, ...]:
    """Return how each offered panel fits a roof, most watts first, of equal watts the fewest panels first.

    Panels keep `gap_m` between them, none to the roof's edge.

    Raises:
        UsageError: a size is not above zero, the gap is negative, or too many tiny panels would fit.
    """
    for offer in offers:
        sizes = (roof_length_m, roof_width_m, *offer)
        if not all(size > 0 for size in sizes) or not gap_m >= 0:
            raise UsageError(
                f"roof {roof_length_m:g} x {roof_width_m:g} m, gap {gap_m:g} m, panel {offer.length_m:g} x "
                f"{offer.width_m:g} m of {offer.rated_w:g} W: give sizes above zero in metres, no gap below"
            )
        if roof_length_m * roof_width_m > MOST_PANELS * offer.length_m * offer.width_m:
            raise UsageError(
                f"more than {MOST_PANELS} panels of {offer.length_m:g} x {offer.width_m:g} m would fit; "
                "give the panel's size in metres"
            )
    fits = [_fit(roof_length_m, roof_width_m, offer, gap_m) for offer in offers]
    return tuple(sorted(fits, key=lambda fit: (-fit.rated_w, len(fit.mixed))))


def _fit(roof_length_m: float, roof_width_m: float, offer: Offer, gap_m: float) -> RoofFit:
    long, wide = offer.length_m + gap_m, offer.width_m + gap_m
    room = roof_length_m + gap_m, roof_width_m + gap_m
    return RoofFit(
        roof_length_m=roof_length_m,
        roof_width_m=roof_width_m,
        offer=offer,
        along=_without_gap(_grid(*room, long, wide), gap_m),
        across=_without_gap(_grid(*room, wide, long), gap_m),
        mixed=_without_gap(_mixed(*room, long, wide), gap_m),
    )


def _without_gap(places: tuple[PanelPlace, ...], gap_m: float) -> tuple[PanelPlace, ...]:
    return tuple(place._replace(length_m=place[2] - gap_m, width_m=place[3] - gap_m) for place in places)


def _grid(length: float, width: float, long: float, wide: float) -> tuple[PanelPlace, ...]:
    """Return rows and columns of panels that all lie the same way."""
    rows, columns = int(length / long + _HAIR_M), int(width / wide + _HAIR_M)
    return tuple(
        PanelPlace(row * long, column * wide, long, wide)
        for row, column in product(range(rows), range(columns))
    )


def _mixed(length: float, width: float, long: float, wide: float) -> tuple[PanelPlace, ...]:
    """Return the most panels found in five blocks around a middle, each parted by cuts right through."""
    parted = _parted(long, wide)
    most = parted(_rounded(length), _rounded(width))
    ceiling = int(length * width / (long * wide) + _HAIR_M)
    along, across = _cuts(length, long, wide, length), _cuts(width, long, wide, width)
    for (x1, x2), (y1, y2) in product(combinations(along, 2), combinations(across, 2)):
        if len(most) >= ceiling:
            break
        blocks = [
            (0.0, 0.0, x1, y2),
            (0.0, y2, x2, width - y2),
            (x1, 0.0, length - x1, y1),
            (x2, y1, length - x2, width - y1),
            (x1, y1, x2 - x1, y2 - y1),
        ]
        if sum(int(block[2] * block[3] / (long * wide) + _HAIR_M) for block in blocks) <= len(most):
            continue
        wheel = [_moved(parted(_rounded(long_m), _rounded(wide_m)), x, y) for x, y, long_m, wide_m in blocks]
        most = max(most, tuple(chain.from_iterable(wheel)), key=len)
    return most


def _parted(long: float, wide: float) -> Callable[[float, float], tuple[PanelPlace, ...]]:
    """Return a function: the most panels that cuts right through part a room into, either way round."""

    @cache
    def best(length: float, width: float) -> tuple[PanelPlace, ...]:
        most = max(_grid(length, width, long, wide), _grid(length, width, wide, long), key=len)
        ceiling = int(length * width / (long * wide) + _HAIR_M)
        for cut in _cuts(length, long, wide, length / 2):
            if len(most) >= ceiling:
                return most
            parts = best(cut, width) + _moved(best(_rounded(length - cut), width), cut, 0.0)
            most = max(most, parts, key=len)
        for cut in _cuts(width, long, wide, width / 2):
            if len(most) >= ceiling:
                return most
            parts = best(length, cut) + _moved(best(length, _rounded(width - cut)), 0.0, cut)
            most = max(most, parts, key=len)
        return most

    return best


def _cuts(room: float, long: float, wide: float, last: float) -> list[float]:
    """Return the places worth cutting: sums of panel sides, up to the last."""
    sums = {
        _rounded(i * long + j * wide)
        for i in range(int(room / long) + 1)
        for j in range(int((room - i * long) / wide) + 1)
    }
    return sorted(cut for cut in sums if 0 < cut <= last + _HAIR_M)


def _rounded(metres: float) -> float:
    return round(metres, 9)


def _moved(places: tuple[PanelPlace, ...], along_m: float, across_m: float) -> tuple[PanelPlace, ...]:
    return tuple(place._replace(along_m=place[0] + along_m, across_m=place[1] + across_m) for place in places)
