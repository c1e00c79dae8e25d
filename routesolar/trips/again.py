"""A trip asked again and again: what nothing has changed since is not computed anew."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any, NamedTuple, TypeVar

import numpy as np

from routesolar.files.stated import Stated
from routesolar.model.glance import scene_at_a_glance
from routesolar.model.points import points_along
from routesolar.model.scene import Light, Scene, light_on, scenes_of
from routesolar.model.shade import Vista, vista_along
from routesolar.model.standing import Beside
from routesolar.timetable import Start, drive, leaving_at
from routesolar.trip.harvest import Harvest
from routesolar.trip.rig import Rig
from routesolar.trip.route import Plan, Route, SourceFile
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Surroundings
from routesolar.trips.around import Roadside, canopy_read, hills_along, in_season, roadside_of
from routesolar.trips.harvesting import harvest
from routesolar.trips.sources import Sources
from routesolar.trips.trip import Trip
from routesolar.wanted import still_wanted

Value = TypeVar("Value")


class Kept:
    """The last value of each step of a chain, and what it was made from."""

    def __init__(self) -> None:
        """Begin with nothing."""
        self._values: dict[str, tuple[Any, Any]] = {}

    def of(self, step: str, made_from: tuple[Any, ...], make: Callable[[], Value]) -> Value:
        """Return the step's value: the last one if it was made from the same, else a new one."""
        known = self._values.get(step)
        if known is None or not _is_same(known[0], made_from):
            known = self._values[step] = made_from, make()
        value: Value = known[1]
        return value

    def known(self, step: str, made_from: tuple[Any, ...]) -> Any:
        """Return the step's value if it was made from the same, else None."""
        known = self._values.get(step)
        return known[1] if known is not None and _is_same(known[0], made_from) else None


def _is_same(before: tuple[Any, ...], now: tuple[Any, ...]) -> bool:
    """Tell whether a value was made from the same: equal where it is stated, itself where it was computed."""
    pairs = zip(before, now, strict=True)
    return all(one is other or (type(one) in _STATED and one == other) for one, other in pairs)


_STATED = (Route, Plan, Start, Rig, Sources, Stated, SourceFile, float, str, tuple)


class AtOnce(NamedTuple):
    """A quick harvest; whole ones leave nothing out, near ones have energies good to some hundredths."""

    harvest: Harvest
    is_whole: bool
    is_near: bool


class Again:
    """Harvests of trips that differ little from one to the next, as `harvest_trip` returns them.

    The line is laid out, rasters are read and trees are looked at again only where these have changed: a drive
    that leaves at another time meets the same trees under another sun.
    """

    def __init__(self) -> None:
        """Begin with nothing."""
        self._kept = Kept()

    def harvest(self, trip: Trip) -> Harvest:
        """Return the harvest of a trip.

        Raises:
            UsageError, InputError, CoverageError: as harvest_trip.
        """
        segments, beside, around = self._around(trip)
        height_m, trees = trip.fitted().roof_height_m, (around.canopy, around.terrain)
        vista = self._step("vista", (beside, height_m), lambda: vista_along(segments, *trees, height_m))
        light = self._light(segments, trip.fitted())
        scene = self._step(
            "scene", (vista, around, trip.rig), lambda: _scene(trip, segments, around, vista, light)
        )
        return harvest(scene, trip.skies)

    def harvest_at_once(self, trip: Trip) -> AtOnce:
        """Return the harvest without the trees' doubt, battery and losses, which take time.

        It is whole where there is neither battery nor doubt. Its energies are those of the whole one, unless
        the trees have changed since the last whole one: then they are those of a glance at the sky.

        Raises:
            UsageError, InputError, CoverageError: as harvest_trip.
        """
        segments, beside, around = self._around(trip)
        rig, sure = trip.fitted(), replace(around, canopy=around.canopy.certain())
        bare = replace(trip, rig=replace(rig, battery=None, alternator=None, loads=()))
        light, height_m = self._light(segments, bare.fitted()), rig.roof_height_m
        is_whole = rig.battery is None and sure.canopy.is_open
        vista = self._kept.known("vista", (beside, height_m))
        if vista is None and sure.canopy.has_stands:
            scene = self._step("glance", (light, around), lambda: self._glance(bare, segments, sure, light))
            return AtOnce(harvest(scene, trip.skies, with_losses=False), is_whole=False, is_near=True)
        trees = around.canopy, around.terrain
        vista = self._step("vista", (beside, height_m), lambda: vista_along(segments, *trees, height_m))
        scene = self._step(
            "at once", (vista, around, bare.rig), lambda: _scene(bare, segments, sure, vista, light)
        )
        return AtOnce(harvest(scene, trip.skies, with_losses=is_whole), is_whole, is_near=False)

    def _glance(self, trip: Trip, segments: Segments, around: Surroundings, light: Light) -> Scene:
        """Return the scene among trees that have changed, with the points on its road kept."""
        canopy, terrain = around.canopy, around.terrain
        near = Beside.of(canopy, terrain).near(segments)
        is_plain, on_raster = near is None, canopy.placement is not None
        road = self._road(trip) if is_plain else segments
        points = self._step(
            "points", (road, "raster" if on_raster else ""), lambda: points_along(segments, canopy, near)
        )
        scene = scene_at_a_glance(points, light, segments, trip.fitted(), canopy, terrain)
        return replace(scene, around=around)

    def _light(self, segments: Segments, rig: Rig) -> Light:
        return self._step("light", (segments, rig.panels), lambda: light_on(segments, [rig]))

    def _around(self, trip: Trip) -> tuple[Segments, Roadside, Surroundings]:
        height_m = trip.fitted().roof_height_m
        road = self._road(trip)
        segments = self._step("drive", (road, trip.departure), lambda: _left(trip, road))
        sources = trip.sources
        hills = self._step("hills", (road, sources.terrain, height_m), lambda: hills_along(trip, segments))
        unsaid = replace(sources, road_width_m=None, fit_road_width=False)
        if trip.on_map is None:
            unsaid = replace(unsaid, canopy_height_m=None)
        read = self._step("read", (road, unsaid), lambda: canopy_read(trip, segments))
        beside = self._step("beside", (road, sources, hills), lambda: roadside_of(trip, segments, hills, read))
        around = self._step("around", (segments, beside), lambda: in_season(beside, trip, segments))
        return segments, beside, around

    def _road(self, trip: Trip) -> Segments:
        """Return the drive as it was first timed; it is another one only where it waits for a clock."""
        when = trip.departure if trip.departure is None or trip.plan.waits_for_clock else None
        leaving = None if trip.departure is None else np.array([trip.departure.utc_s])
        return self._step(
            "road", (trip.route, trip.plan, when), lambda: drive(trip.route, leaving, plan=trip.plan)
        )

    def _step(self, step: str, made_from: tuple[Any, ...], make: Callable[[], Value]) -> Value:
        still_wanted()
        return self._kept.of(step, made_from, make)


def _left(trip: Trip, road: Segments) -> Segments:
    """Return the drive as it leaves, with what the departure has to say."""
    start = trip.departure
    if start is None:
        return road
    at = np.array([start.utc_s])
    left = road if np.array_equal(road.departure_utc_s, at) else leaving_at(road, at)
    return replace(left, notes=(*start.notes, *road.notes))


def _scene(trip: Trip, segments: Segments, around: Surroundings, vista: Vista, light: Light) -> Scene:
    (scene,) = scenes_of(vista, segments, [trip.fitted()], around.canopy, around.terrain, light)
    return replace(scene, around=around)
