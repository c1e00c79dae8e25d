"""Read ratings, roofs and panels on offer as people write them."""

import re
from collections.abc import Mapping

from routesolar.decisions.roof import Offer
from routesolar.errors import UsageError
from routesolar.files import values
from routesolar.files.reading import printable

_SIZE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*[xX]\s*(\d+(?:\.\d+)?)\s*m?\s*")


_NUMBER = re.compile(r"(\d+(?:\.\d+)?)\s*([A-Za-z]*)")
_ENERGIES = {"": 1.0, "wh": 1.0, "kwh": 1000.0}
_POWERS = {"": 1.0, "w": 1.0, "kw": 1000.0}
MOST_WH = 1e7
MOST_W = 100_000.0  # a road train covered with panels has less


def ratings_of(text: str) -> list[float]:
    """Return watts of a list such as 50,100,200W."""
    ratings_w = [values.power_w(part if part[-1:] in "Ww" else f"{part}W", "rated") for part in _parts(text)]
    for rated_w in ratings_w:
        if rated_w > MOST_W:
            raise UsageError(
                f"--rated {rated_w:g} W is more than any vehicle carries; give watts, such as 50,100,200"
            )
    return ratings_w


def capacities_of(text: str) -> list[float]:
    """Return watt-hours of a list such as 1000,2000,4000 or 1kWh,2kWh."""
    return [_number(part, "capacity", _ENERGIES, "1000,2000,4000 (watt-hours)") for part in _parts(text)]


def charges_of(text: str) -> list[float]:
    """Return watts of a list such as 0,150,300; 0 is no charging by the engine."""
    return [_number(part, "charge", _POWERS, "0,150,300 (watts)") for part in _parts(text)]


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _number(text: str, what: str, units: Mapping[str, float], example: str) -> float:
    match = _NUMBER.fullmatch(text)
    factor = None if match is None else units.get(match[2].casefold())
    if match is None or factor is None:
        raise UsageError(f'--{what} "{printable(text)}" is not a size; write --{what} {example}')
    number = float(match[1]) * factor
    if number > MOST_WH:
        raise UsageError(f"--{what} {number:g} is more than any vehicle carries; write --{what} {example}")
    return number


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
