"""The surroundings of a drive as a map knows them, where nothing better is said."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy, Trees
from routesolar.trips.mapping import MapAlong
from routesolar.trips.sources import Sources

LONG_BRIDGE_M = 50.0  # beside shorter ones trees stand as they do beside the road


class OnMap(NamedTuple):
    """A canopy on a map's road, and where the map told the opening, (n,), empty where it did not."""

    canopy: Canopy
    opening_from: tuple[str, ...]


def on_mapped_road(
    canopy: Canopy, segments: Segments, sources: Sources, on_map: MapAlong, said_width_m: FloatArray
) -> OnMap:
    """Return the canopy with the map's opening and lane where nothing is said of them; no trees on bridges."""
    road, number = on_map.road, segments.stretch
    if number is None:
        return OnMap(canopy, ())
    usual = Trees()
    known = road.matched[number] & np.isfinite(road.opening_m[number])
    by_opening = np.array([trees.road_width_between == "opening" for trees in canopy.trees])[canopy.kind]
    free = sources.road_width_m is None and not sources.fit_road_width
    told = known & np.isnan(said_width_m) & by_opening & free
    usual_lane = abs(canopy.lane_offset_m) == usual.lane_offset_m
    lane = known & usual_lane & (sources.trees.lane_offset_m == usual.lane_offset_m)
    side = np.sign(canopy.lane_offset_m)
    width_sd = np.broadcast_to(canopy.doubt.road_width_sd_frac, segments.count)
    rests_on = canopy.doubt.rests_on
    if told.any():
        rests_on = (f"{rests_on[0]} {' '.join(file.sha256 for file in on_map.features.files)}", *rests_on[1:])
    bare = _on_long_bridge(segments.length_m, number, road) & np.isnan(canopy.uniform_cover_frac) & canopy.drawn
    canopy = replace(
        canopy,
        road_width_m=np.where(told, road.opening_m[number], canopy.road_width_m),
        lane_offset_m=np.where(lane, side * road.lane_offset_m[number], canopy.lane_offset_m),
        uniform_cover_frac=np.where(bare, 0.0, canopy.uniform_cover_frac),
        doubt=replace(
            canopy.doubt,
            road_width_sd_frac=np.where(told, road.width_sd_frac[number], width_sd),
            rests_on=rests_on,
        ),
    )
    words = (road.width_from[k] if here else "" for k, here in zip(number.tolist(), told.tolist(), strict=True))
    return OnMap(canopy, tuple(words))


def _on_long_bridge(length_m: FloatArray, number: IntArray, road: MappedRoad) -> BoolArray:
    """Return which segments lie on a bridge of 50 m or longer."""
    whole_m = np.bincount(number, weights=length_m, minlength=len(road.road))
    long_bridge: BoolArray = (road.bridge & (whole_m >= LONG_BRIDGE_M))[number]
    return long_bridge
