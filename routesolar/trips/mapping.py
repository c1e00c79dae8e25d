"""What maps say of a trip's route: read once, and the route laid on their roads."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from hashlib import sha256
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from routesolar.files.telling import doing
from routesolar.mapping.country_rules import Countries, nowhere
from routesolar.physics.geodesy import distance_m, earth_centred_m
from routesolar.timetable import without_noise
from routesolar.trip.ground import Outlines
from routesolar.trip.mapped import MapFeatures
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.route import Route, SourceFile

if TYPE_CHECKING:
    from routesolar.mapping.standing import MapStands

MOST_KEPT = 3
FOLLOWED_FRAC = 0.995
NOTHING_M = 1000.0  # maps of a place where people drive show something nearer than this
_KEPT: dict[str, "MapAlong"] = {}  # of this run: trips are told again and again with other words


class MapAlong(NamedTuple):
    """What maps hold around a route, the road under it, and what stands there."""

    features: MapFeatures
    road: MappedRoad
    stands: "MapStands"
    drawing: Outlines

    @property
    def credited(self) -> tuple[MappedRoad, str, tuple[SourceFile, ...]]:
        """The road, what the maps' licence asks for, and the maps."""
        return self.road, self.features.attribution, self.features.files


def map_along(paths: tuple[str, ...], route: Route) -> MapAlong | None:
    """Return what maps say of a route, None where none is given.

    Raises:
        InputError: a map cannot be used.
    """
    if not paths:
        return None
    from routesolar.files.map_files import state_of  # slow to import, and most drives have no map

    line = np.concatenate([route.latitude_deg, route.longitude_deg, route.time_utc_s, route.piece])
    key = sha256(f"{[state_of(path) for path in paths]}".encode() + line.tobytes()).hexdigest()
    if key not in _KEPT:
        while len(_KEPT) >= MOST_KEPT:
            _KEPT.pop(next(iter(_KEPT)))
        _KEPT[key] = _read(paths, route)
    return _KEPT[key]


def _read(paths: tuple[str, ...], route: Route) -> MapAlong:
    from routesolar.files.map_files import map_names, read_maps
    from routesolar.mapping.drawing import outlines_of
    from routesolar.mapping.on_roads import laid_on_roads
    from routesolar.mapping.standing import stands_of

    features = read_maps(paths, route.latitude_deg, route.longitude_deg)
    calm, notes = without_noise(route)
    road = laid_on_roads(calm, features, doing, _countries(route))
    stands = stands_of(features)
    faults = Counter(dict(features.faults))
    faults.update(dict(road.faults))
    faults.update(dict(stands.faults))
    names = map_names(paths)
    notes += _notes(road, names, is_place=len(route.latitude_deg) == 1)
    warnings = (*_beyond(features, road, names), *_told(faults.items(), names))
    road = replace(road, notes=tuple(notes), warnings=warnings)
    return MapAlong(features, road, stands, outlines_of(features))


def _countries(route: Route) -> Countries:
    """Return what tells the countries of places; a land that exists nowhere lies in none."""
    if any(file.invented for file in route.files):
        return nowhere
    # Only maps need the libraries that read outlines.
    from routesolar.files.outlines import countries_at

    return countries_at


def _notes(road: MappedRoad, names: str, *, is_place: bool) -> list[str]:
    if is_place:
        return []
    if road.matched_frac >= FOLLOWED_FRAC:
        return [f"the line was laid on the roads of {names}"]
    return [
        f"the line was laid on the roads of {names} where it follows them, on {road.matched_frac:.1%} of the "
        "way; elsewhere it is as it was, and what is said or usual holds"
    ]


def _beyond(features: MapFeatures, road: MappedRoad, names: str) -> Iterator[str]:
    """Yield a warning where nothing of the map lies near the route: it may end there."""
    from scipy.spatial import cKDTree  # slow to import

    lat, lon = road.latitude_deg, road.longitude_deg
    if not len(features.latitude_deg):
        yield f"{names} shows nothing along the route; trees and houses there are not known and were left out"
        return
    known = cKDTree(earth_centred_m(features.latitude_deg, features.longitude_deg))
    far = known.query(earth_centred_m(lat, lon), distance_upper_bound=NOTHING_M)[0] > NOTHING_M
    apart_m = distance_m(lat[:-1], lon[:-1], lat[1:], lon[1:]) * (np.diff(road.piece) == 0)
    whole_m, far_m = apart_m.sum(), apart_m @ ((far[:-1] * 1.0 + far[1:]) / 2)
    beyond_frac = float(far_m / whole_m if whole_m else far.mean())
    if beyond_frac > 1 - FOLLOWED_FRAC:
        yield (
            f"{names} shows nothing within {NOTHING_M / 1000:g} km of the route on {beyond_frac:.1%} of the "
            "way, where it seems to end; trees and houses there are not known and were left out"
        )


def _told(faults: Iterable[tuple[str, int]], names: str) -> list[str]:
    """Return one warning of all that was left out of maps."""
    told = ", ".join(f"{count} {what}" for what, count in sorted(faults))
    return [f"left out of {names}, or taken as usual: {told}"] if told else []
