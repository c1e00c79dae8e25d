"""What a road of a map is like where its tags do not say: lanes, their width, the verges, the usual speed.

Widths of lanes are those of AASHTO, A Policy on Geometric Design of Highways and Streets: 3.6 m is desirable,
3.3 m acceptable where there is little room, 3.0 m on roads of low speed, 2.7 m on roads of little traffic and
in residential areas. Which kind of road is which is judgement; countries with guides of their own stand in
`country_rules`. The trees' distance from the carriageway is judgement too, between the shoulder (1.0 to 1.5 m,
RAS-Q 1996; on new British roads 3.5 m, TD 27/96) and the ground that guides keep clear (at least 3.0 m on rural
collectors and local roads; FHWA, Flexibility in Highway Design, 1997), less the crowns' overhang; old avenues
stand nearer. So are the usual speeds, and all of tracks, service roads and ramps.
"""

from collections import Counter
from types import MappingProxyType
from typing import NamedTuple

from routesolar.mapping.country_rules import LANE_RULES, most_kmh, zone_kmh
from routesolar.mapping.tag_values import count_of, length_m, speed_mps
from routesolar.trip.mapped import Tags


class RoadKind(NamedTuple):
    """Lanes in all, metres a lane, metres between carriageway and crowns on each side, and km/h."""

    lanes: float
    lane_m: float
    verge_m: float
    usual_kmh: float


_KINDS = MappingProxyType(
    {
        "motorway": RoadKind(2, 3.6, 8.0, 110),
        "trunk": RoadKind(2, 3.6, 5.0, 90),
        "primary": RoadKind(2, 3.6, 3.0, 70),
        "secondary": RoadKind(2, 3.3, 2.5, 65),
        "tertiary": RoadKind(2, 3.0, 2.0, 55),
        "unclassified": RoadKind(2, 2.7, 1.5, 45),
        "residential": RoadKind(2, 2.7, 2.0, 30),
        "living_street": RoadKind(1, 4.5, 2.0, 10),
        "service": RoadKind(1, 3.5, 1.0, 15),
        "track": RoadKind(1, 3.0, 0.75, 20),
        "road": RoadKind(2, 2.75, 1.5, 40),
    }
)
_BY_GUIDE = ("motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential")
_LINK = RoadKind(1, 4.5, 3.0, 45)
_DRIVEWAY_M = 3.0
# One standard deviation of the opening as a share of it: judgement, as those of what is said by hand.
OPENING_BY_WIDTH_SD, OPENING_BY_LANES_SD, OPENING_BY_KIND_SD = 0.20, 0.22, 0.25
_NARROWEST_M, _WIDEST_M = 1.5, 60.0
MOST_LANES = 12
LANE_OFFSET_M = 1.75


class Road(NamedTuple):
    """A road: widths of carriageway and opening, doubt of the latter, lane, speed, and their sources."""

    kind: str
    carriageway_m: float
    opening_m: float
    width_sd_frac: float
    lane_offset_m: float
    speed_mps: float
    tunnel: bool
    bridge: bool
    width_from: str
    speed_from: str


def road_of(tags: Tags, faults: Counter[str], country: str = "") -> Road:
    """Return what a road's tags say, and where they are silent what is usual for its kind or country."""
    name = tags.get("highway", "road")
    kind = _KINDS.get(name) or (_LINK if name.endswith("_link") else _KINDS["road"])
    one_way = tags.get("oneway") in ("yes", "-1", "true", "1") or name == "motorway"
    lanes = count_of(tags, "lanes", 1, MOST_LANES, faults)
    kind, guide = _by_guide(kind, name, country)
    if tags.get("service") == "driveway":
        kind = kind._replace(lane_m=_DRIVEWAY_M)
    width_m = length_m(tags, "width", _NARROWEST_M, _WIDEST_M, faults)
    if width_m is None:
        width_m = length_m(tags, "est_width", _NARROWEST_M, _WIDEST_M, faults)
    usual_lanes = 1.0 if one_way and name not in ("motorway", "trunk") else kind.lanes
    if width_m is not None:
        sd, source = OPENING_BY_WIDTH_SD, "by the map's width"
    elif lanes is not None:
        width_m, sd, source = lanes * kind.lane_m, OPENING_BY_LANES_SD, f"by the map's lanes{guide}"
    else:
        width_m, sd, source = usual_lanes * kind.lane_m, OPENING_BY_KIND_SD, f"by the map's kind of road{guide}"
    used_lanes = lanes or max(1.0, min(usual_lanes, round(width_m / kind.lane_m)))
    offset_m = (used_lanes - 1) / 2 * width_m / used_lanes if one_way else min(LANE_OFFSET_M, width_m / 4)
    speed, speed_from = _speed(tags, kind, name, country, faults)
    return Road(
        kind=name,
        carriageway_m=width_m,
        opening_m=width_m + 2 * kind.verge_m,
        width_sd_frac=sd,
        lane_offset_m=offset_m,
        speed_mps=speed,
        tunnel=tags.get("tunnel", "no") != "no" or tags.get("covered", "no") not in ("no", "partial"),
        bridge=tags.get("bridge", "no") != "no",
        width_from=source,
        speed_from=speed_from,
    )


def _by_guide(kind: RoadKind, name: str, country: str) -> tuple[RoadKind, str]:
    """Return a kind of road with its lanes as wide as the country's guide has them, and words for the guide."""
    rule = LANE_RULES.get(country)
    if rule is not None and name in rule.lane_m:
        return kind._replace(lane_m=rule.lane_m[name]), f" and {rule.guide}"
    return kind, " and AASHTO" if name in _BY_GUIDE else ""


def _speed(tags: Tags, kind: RoadKind, name: str, country: str, faults: Counter[str]) -> tuple[float, str]:
    """Return a road's speed in m/s: its sign's, else its zone's by law, else the usual one as far as legal."""
    signed = speed_mps(tags, faults)
    if signed is not None:
        return signed, "the limit"
    zone = zone_kmh(tags)
    if zone is not None:
        return zone / 3.6, "the limit by law"
    legal = most_kmh(name, country)
    if legal is not None and name == "motorway":
        return legal / 3.6, "the limit by law"
    usual = kind.usual_kmh if legal is None else min(kind.usual_kmh, legal)
    return usual / 3.6, "usual for the kind of road"
