"""Read ratings, roofs and panels on offer as people write them."""

import re

from routesolar.decisions.roof import Offer
from routesolar.errors import UsageError
from routesolar.files import values
from routesolar.files.reading import printable

_SIZE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[xX]\s*(\d+(?:\.\d+)?)\s*m?\s*")


MOST_W = 100_000.0  # a road train covered with panels has less


def ratings_of(text: str) -> list[float]:
    """Return watts of a list such as 50,100,200W."""
    parts = [part.strip() for part in text.split(",") if part.strip()]
    ratings_w = [values.power_w(part if part[-1:] in "Ww" else f"{part}W", "rated") for part in parts]
    for rated_w in ratings_w:
        if rated_w > MOST_W:
            raise UsageError(
                f"--rated {rated_w:g} W is more than any vehicle carries; give watts, such as 50,100,200"
            )
    return ratings_w


def roof_of(text: str) -> tuple[float, float]:
    """Return length and width in metres of 2.6x1.4."""
    match = _SIZE.fullmatch(text)
    if match is None or float(match[1]) <= 0 or float(match[2]) <= 0:
        raise UsageError(f'"{printable(text)}" is not a size; write length x width in metres, such as 2.6x1.4')
    return float(match[1]), float(match[2])


def offers_of(texts: list[str]) -> list[Offer]:
    """Return the panels on offer of texts such as 200W:1.58x0.70."""
    if not texts:
        raise UsageError("which panels for the roof? give --offer 200W:1.58x0.70 (watts:length x width)")
    offers = []
    for text in texts:
        watts, colon, size = text.partition(":")
        if not colon:
            raise UsageError(f'offer is "{printable(text)}"; write it as 200W:1.58x0.70')
        length_m, width_m = roof_of(size)
        offers.append(Offer(rated_w=values.power_w(watts, "offer"), length_m=length_m, width_m=width_m))
    return offers
