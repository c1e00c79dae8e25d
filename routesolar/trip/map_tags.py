"""The words of open map data that matter for light on a road: objects that are taken, and their tags."""

from collections.abc import Mapping
from typing import Any

Kinds = tuple[tuple[str, tuple[str, ...]], ...]

WOODS: Kinds = (("natural", ("wood",)), ("landuse", ("forest", "orchard", "vineyard")))
WATER: Kinds = (("natural", ("water",)), ("waterway", ("riverbank",)))
COASTS: Kinds = (("natural", ("coastline",)),)
# Areas that are read wherever they lie, since they may surround a route: woods, and water to be drawn.
AREAS: Kinds = (*WOODS, *WATER)
BIG_ROADS: Kinds = (
    (
        "highway",
        ("motorway", "trunk", "primary", "secondary", "motorway_link", "trunk_link", "primary_link"),
    ),
)
DRIVABLE = (
    *BIG_ROADS[0][1],
    *("secondary_link", "tertiary", "tertiary_link", "unclassified", "residential", "living_street"),
    *("service", "road", "track"),
)
LINES: Kinds = (
    ("highway", DRIVABLE),
    ("route", ("ferry",)),
    ("natural", ("tree_row", "coastline")),
    ("barrier", ("hedge",)),
)
# Where one may pause: points, or areas that are read where they lie near the route.
PAUSES: Kinds = (
    ("highway", ("rest_area", "services")),
    ("amenity", ("parking",)),
    ("tourism", ("picnic_site", "camp_site", "caravan_site")),
)
POINTS: Kinds = (("natural", ("tree",)), ("place", ("city", "town", "village")), *PAUSES)
KEPT_KEYS = frozenset(
    "highway route natural landuse waterway barrier place building width est_width lanes oneway junction "
    "maxspeed maxspeed:type source:maxspeed zone:traffic zone:maxspeed tunnel covered bridge layer service "
    "tracktype name leaf_type leaf_cycle height diameter_crown "
    "population building:levels roof:levels min_height building:min_level location canopy_cover_pct "
    "amenity tourism access parking".split()
)
_LONGEST = 120  # letters of a value


def known_tags(tags: Mapping[str, Any]) -> dict[str, str]:
    """Return the tags that are of use, their values cut to a sensible length."""
    return {key: str(value)[:_LONGEST] for key, value in tags.items() if key in KEPT_KEYS}


def is_one_of(tags: Mapping[str, str], kinds: Kinds) -> bool:
    """Return whether an object is of one of these kinds."""
    return any(tags.get(key) in values for key, values in kinds)


def shape_of(tags: Mapping[str, str], *, closed: bool) -> str:
    """Return whether a line or ring of the map stands for a "line" or an "area"; empty where it is neither."""
    if is_one_of(tags, LINES):
        return "line"
    if is_one_of(tags, (*AREAS, *PAUSES)) or tags.get("building", "no") != "no":
        return "area" if closed else ""
    return ""
