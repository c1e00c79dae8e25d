"""What guides and laws of a country say of its roads where a map's tags do not: lane widths, speed limits.

Few countries, and only what was seen in a source; elsewhere the general values of `road_kinds` hold.
"""

import re
from collections.abc import Callable, Sequence
from types import MappingProxyType
from typing import NamedTuple

from routesolar.trip.arrays import FloatArray
from routesolar.trip.mapped import Tags

MPH = 1.609344
Countries = Callable[[FloatArray, FloatArray], Sequence[str]]  # latitudes, longitudes to two letters each


class LaneRule(NamedTuple):
    """Metres a lane by kind of road, and the guide's name."""

    guide: str
    lane_m: MappingProxyType[str, float]


class Limits(NamedTuple):
    """Limits in km/h in towns, outside and on motorways, where no sign says another; None: not known."""

    town: float
    country: float
    motorway: float | None


def _lanes(guide: str, **lane_m: float) -> LaneRule:
    return LaneRule(guide, MappingProxyType(lane_m))


# Austroads, Guide to Road Design Part 3: 3.5 m is the standard lane (as quoted by others).
_AUSTROADS = _lanes("Austroads", motorway=3.5, trunk=3.5, primary=3.5, secondary=3.5)
LANE_RULES = MappingProxyType(
    {
        "AU": _AUSTROADS,
        "NZ": _AUSTROADS,
        # RAS-Q 1996, paved width of two lanes and edge strips: federal roads (RQ 10.5) 7.50 m, state roads (RQ
        # 9.5) 6.50 m, roads between villages (RQ 7.5) 5.50 m.
        "DE": _lanes("RAS-Q", trunk=3.75, primary=3.75, secondary=3.25, unclassified=2.75),
        # TD 27/96: 7.30 m for two lanes (Rogers, Highway Engineering, 2003, table 6.1).
        "GB": _lanes("TD 27", motorway=3.65, trunk=3.65, primary=3.65),
    }
)
# Cars and vans below 3.5 t. Europe: European Commission, Going Abroad (standard speed limits). Great Britain:
# Highway Code, rule 124, 30, 60 and 70 mph. Switzerland: Verkehrsregelnverordnung, art. 4a (from memory).
# Australia: Australian Road Rules, rule 25 (some states differ).
LIMITS = MappingProxyType(
    {
        "AT": Limits(50, 100, 130),
        "AU": Limits(50, 100, None),
        "BE": Limits(50, 90, 120),
        "BG": Limits(50, 90, 140),
        "CH": Limits(50, 80, 120),
        "CY": Limits(50, 80, 100),
        "CZ": Limits(50, 90, 130),
        "DE": Limits(50, 100, 130),  # advised on motorways
        "DK": Limits(50, 80, 130),
        "EE": Limits(50, 90, None),
        "ES": Limits(50, 90, 120),
        "FI": Limits(50, 80, None),
        "FR": Limits(50, 80, 130),
        "GB": Limits(30 * MPH, 60 * MPH, 70 * MPH),
        "GR": Limits(50, 90, 130),
        "HR": Limits(50, 90, 130),
        "HU": Limits(50, 90, 130),
        "IE": Limits(50, 80, 120),
        "IT": Limits(50, 90, 130),
        "LI": Limits(50, 80, None),
        "LT": Limits(50, 90, None),
        "LV": Limits(50, 90, None),
        "SI": Limits(50, 90, 130),
        "SK": Limits(50, 90, 130),
    }
)
# As the map's documentation has them: a country's code and a zone, in one of these keys.
_ZONE_KEYS = ("maxspeed", "maxspeed:type", "source:maxspeed", "zone:traffic", "zone:maxspeed")
_ZONE = re.compile(r"([A-Z]{2})(?:-[A-Z]{2,3})?:(?:zone:?)?(\w{1,20})", re.ASCII)
_PLACES = MappingProxyType(
    {
        "urban": "town",
        "rural": "country",
        "motorway": "motorway",
        "nsl_restricted": "town",
        "nsl_single": "country",
        "nsl_dual": "motorway",
    }
)


def zone_kmh(tags: Tags) -> float | None:
    """Return the limit of the zone that a road's tags name, such as CH:rural or DE:zone30; None without one."""
    for key in _ZONE_KEYS:
        named = _ZONE.fullmatch(tags.get(key, ""))
        if named is None:
            continue
        if named[2].isdecimal():
            kmh = float(named[2]) * (MPH if named[1] == "GB" else 1.0)
            return kmh if 5.0 <= kmh <= 160.0 else None
        limits = LIMITS.get(named[1])
        if limits is not None and named[2] in _PLACES:
            found: float | None = getattr(limits, _PLACES[named[2]])
            return found
    return None


def most_kmh(kind: str, country: str) -> float | None:
    """Return the limit of a country for a kind of road without signs; None where none is known."""
    limits = LIMITS.get(country)
    if limits is None:
        return None
    if kind == "motorway":
        return limits.motorway
    return limits.town if kind in ("residential", "living_street") else limits.country


def nowhere(latitude_deg: FloatArray, longitude_deg: FloatArray) -> Sequence[str]:
    """Return that no place lies in any country."""
    return [""] * len(latitude_deg)
