"""Places to pause that a map shows beside a road: lay-bys, services, parking places, picnic and camp sites."""

from types import MappingProxyType

import numpy as np

from routesolar.trip.map_tags import PAUSES, is_one_of
from routesolar.trip.mapped import MapFeature, MapFeatures, Tags
from routesolar.trip.route import Clearing, Waypoint

KINDS = MappingProxyType(
    {
        "rest_area": "lay-by",
        "services": "services",
        "parking": "parking place",
        "picnic_site": "picnic site",
        "camp_site": "camp site",
        "caravan_site": "camp site",
    }
)
CLOSED = ("no", "private", "permit", "customers", "delivery", "residents")
SUNLESS = ("underground", "multi-storey", "garage_boxes", "carports", "sheds")
NARROWEST_M, WIDEST_M = 6.0, 500.0
_M_PER_DEG = 111_200.0


def pauses_of(features: MapFeatures) -> tuple[Waypoint, ...]:
    """Return the places to pause that are open to everybody and to the sky, each called by its kind and name.

    What is drawn as an area stands in a clearing as wide as a circle of its size.
    """
    return tuple(_pause(feature) for feature in features if _may_pause(feature.tags))


def _may_pause(tags: Tags) -> bool:
    open_to_all = tags.get("access") not in CLOSED and tags.get("covered") != "yes"
    return is_one_of(tags, PAUSES) and open_to_all and tags.get("parking") not in SUNLESS


def _pause(feature: MapFeature) -> Waypoint:
    tags, (lat, lon, _) = feature.tags, feature.rings[0]
    kind = next(KINDS[tags[key]] for key, values in PAUSES if tags.get(key) in values)
    name = f"{kind} {tags['name']}" if tags.get("name") else kind
    lon = lon[0] + (lon - lon[0] + 180.0) % 360.0 - 180.0  # on one side of the antimeridian
    middle_lon = (float(lon.mean()) + 180.0) % 360.0 - 180.0
    clearing = None
    if feature.shape == "area":
        east_m = (lon - lon.mean()) * _M_PER_DEG * np.cos(np.radians(lat.mean()))
        north_m = (lat - lat.mean()) * _M_PER_DEG
        size_m2 = abs(np.sum(east_m * np.roll(north_m, -1) - np.roll(east_m, -1) * north_m)) / 2
        across_m = 2 * np.sqrt(size_m2 / np.pi)
        clearing = Clearing(road_width_m=float(np.clip(across_m, NARROWEST_M, WIDEST_M)))
    return Waypoint(name=name, latitude_deg=float(lat.mean()), longitude_deg=middle_lon, clearing=clearing)
