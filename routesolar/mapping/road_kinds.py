"""What a road of a map is like where its tags do not say: lanes, their width, the verges, the usual speed.

Widths of lanes are common values of design guides, from memory: 3.6 m on motorways and main roads and 2.7
to 3.3 m on local ones (AASHTO, A Policy on Geometric Design of Highways and Streets, 2018), 3.50 and 3.00 m
on German country roads (RAL 2012). The trees' distance from the carriageway and the usual speeds are
judgement: clear zones of design guides are wider (AASHTO Roadside Design Guide 2011: 3 to 10 m by speed),
old avenues narrower.
"""

from collections import Counter
from types import MappingProxyType
from typing import NamedTuple

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
        "trunk": RoadKind(2, 3.5, 5.0, 90),
        "primary": RoadKind(2, 3.4, 3.0, 70),
        "secondary": RoadKind(2, 3.2, 2.5, 65),
        "tertiary": RoadKind(2, 3.0, 2.0, 55),
        "unclassified": RoadKind(2, 2.6, 1.5, 45),
        "residential": RoadKind(2, 2.75, 2.0, 30),
        "living_street": RoadKind(1, 4.5, 2.0, 10),
        "service": RoadKind(1, 3.5, 1.0, 15),
        "track": RoadKind(1, 3.0, 0.75, 20),
        "road": RoadKind(2, 2.75, 1.5, 40),
    }
)
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


def road_of(tags: Tags, faults: Counter[str]) -> Road:
    """Return what a road's tags say, and where they are silent what is usual for its kind."""
    name = tags.get("highway", "road")
    kind = _KINDS.get(name) or (_LINK if name.endswith("_link") else _KINDS["road"])
    one_way = tags.get("oneway") in ("yes", "-1", "true", "1") or name == "motorway"
    lanes = count_of(tags, "lanes", 1, MOST_LANES, faults)
    if tags.get("service") == "driveway":
        kind = kind._replace(lane_m=_DRIVEWAY_M)
    width_m = length_m(tags, "width", _NARROWEST_M, _WIDEST_M, faults)
    if width_m is None:
        width_m = length_m(tags, "est_width", _NARROWEST_M, _WIDEST_M, faults)
    usual_lanes = 1.0 if one_way and name not in ("motorway", "trunk") else kind.lanes
    if width_m is not None:
        sd, source = OPENING_BY_WIDTH_SD, "by the map's width"
    elif lanes is not None:
        width_m, sd, source = lanes * kind.lane_m, OPENING_BY_LANES_SD, "by the map's lanes"
    else:
        width_m, sd, source = usual_lanes * kind.lane_m, OPENING_BY_KIND_SD, "by the map's kind of road"
    used_lanes = lanes or max(1.0, min(usual_lanes, round(width_m / kind.lane_m)))
    offset_m = (used_lanes - 1) / 2 * width_m / used_lanes if one_way else min(LANE_OFFSET_M, width_m / 4)
    limit = speed_mps(tags, faults)
    usual = kind.usual_kmh / 3.6
    return Road(
        kind=name,
        carriageway_m=width_m,
        opening_m=width_m + 2 * kind.verge_m,
        width_sd_frac=sd,
        lane_offset_m=offset_m,
        speed_mps=usual if limit is None else limit,
        tunnel=tags.get("tunnel", "no") != "no" or tags.get("covered", "no") not in ("no", "partial"),
        bridge=tags.get("bridge", "no") != "no",
        width_from=source,
        speed_from="usual for the kind of road" if limit is None else "the limit",
    )
