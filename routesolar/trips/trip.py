"""A trip as it is asked about: everything said of it, read and checked once."""

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, timezone
from typing import Any, Self, Unpack
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.errors import UsageError
from routesolar.files.stated import Stated, overridden
from routesolar.files.stated_text import as_trip_file
from routesolar.files.tripfile import read_trip_file
from routesolar.files.wording import BY_MAP, FIT
from routesolar.timetable import Start, departure_at, drive, time_zone_at
from routesolar.timetable.own_route import route_at
from routesolar.trip.arrays import FloatArray
from routesolar.trip.noun import Noun
from routesolar.trip.rig import Rig
from routesolar.trip.route import LegsBy, Plan, Route
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Trees
from routesolar.trips.assembling import plan_of, rig_of, route_of, skies_of, sources_of
from routesolar.trips.mapping import MapAlong, map_along
from routesolar.trips.sources import Sources
from routesolar.trips.words import Paths, TripWords, path_of, paths_of, stated_in


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Trip(Noun):
    """A route, when and how it is driven, with what, under which skies, and what stands along it.

    Without a departure the recorded start holds; without a rig only the drive can be asked for. The first of
    `skies` leads. `units` is for display, `also` names further formats of the route to write. `on_map` is what
    the maps of `sources` say of the route.
    """

    route: Route
    plan: Plan = field(default_factory=Plan)
    departure: Start | None = None
    rig: Rig | None = None
    skies: tuple[Sky, ...]
    sources: Sources = field(default_factory=Sources)
    units: str = "metric"
    also: tuple[str, ...] = ()
    on_map: MapAlong | None = field(default=None, compare=False)

    @classmethod
    def from_gpx(cls, paths: Paths, **words: Unpack[TripWords]) -> Self:
        """Return the trip along one or several GPX files, and what else is said of it.

        The words are those of the command line and of trip files: text with a unit, as there, or a noun.

        Raises:
            UsageError: a word makes no sense. InputError: a file cannot be used.
        """
        return cls.of(replace(stated_in(words), routes=paths_of(paths, "paths")))

    @classmethod
    def along(cls, route: Route, **words: Unpack[TripWords]) -> Self:
        """Return the trip along a route, and what else is said of it, as in from_gpx.

        >>> import routesolar as rs
        >>> north = rs.route_from_arrays([50.0, 50.1], [10.0, 10.0], name="north")
        >>> trip = rs.Trip.along(north, panel="200W", depart="2026-06-21 12:00", speed="60km/h", sky="clear")
        >>> drive = trip.drive()
        >>> f"{drive.length_m.sum() / 1000:.1f} km"  # a tenth of a degree along the meridian
        '11.1 km'
        >>> scene = rs.scene(drive, trip.rig, rs.surroundings(trip, drive))
        >>> rs.harvest(scene, trip.skies)  # doctest: +ELLIPSIS
        <Harvest north 2026-06-21T12:00:00+02:00: ... Wh under clear sky, 1 legs, ... segments>
        """
        return cls.of(replace(stated_in(words), route=route))

    @classmethod
    def at(cls, latitude_deg: float, longitude_deg: float, **words: Unpack[TripWords]) -> Self:
        """Return the trip of a camp: one place, from `depart` to `until`, and what else is said of it.

        >>> import routesolar as rs
        >>> camp = rs.Trip.at(-41.6, 146.5, panel="200W", depart="2026-11-20 10:00", until="2026-11-23 10:00")
        >>> float(camp.drive().duration_s.sum() / 3600)
        72.0

        Raises:
            UsageError: the position is off the globe, or a word makes no sense.
            InputError: a file cannot be used.
        """
        return cls.along(route_at(latitude_deg, longitude_deg), **words)

    def with_(self, **words: Unpack[TripWords]) -> Self:
        """Return the same trip with something said otherwise, as options beside a trip file; stops are added.

        Raises:
            UsageError: a word makes no sense. InputError: a file cannot be used.
        """
        changed = self.of(overridden(self.stated(), stated_in(words)))
        return replace(changed, plan=replace(changed.plan, step_s=self.plan.step_s))

    @classmethod
    def of(cls, stated: Stated) -> Self:
        """Return the trip that is stated.

        Raises:
            UsageError: what is said makes no trip. InputError: a file cannot be used.
        """
        route = route_of(stated)
        on_map = map_along(stated.map, route)
        zone = stated.time_zone or time_zone_at(float(route.latitude_deg[0]), float(route.longitude_deg[0]))[0]
        return cls(
            route=route,
            plan=plan_of(stated, None if on_map is None else on_map.road),
            departure=None if stated.depart is None else departure_at(stated.depart, zone),
            rig=rig_of(stated),
            skies=skies_of(stated, route),
            sources=sources_of(stated),
            units=stated.units or "metric",
            also=stated.also,
            on_map=on_map,
        )

    def stated(self) -> Stated:
        """Return all that has to be said for this trip, and nothing that is so anyway."""
        plan, sources = self.plan, self.sources
        return Stated(
            route=self.route,
            depart=self._depart(),
            rig=self.rig,
            speed_mps=BY_MAP if plan.speed_by_map else plan.speed_mps,
            paces=plan.paces,
            stops=plan.stops,
            stretches=plan.stretches,
            legs=None if plan.legs is LegsBy.AUTO else plan.legs,
            step_m=None if plan.step_m == 50.0 else plan.step_m,
            time_zone=plan.time_zone,
            distance_m=plan.distance_m,
            drive_from_s=plan.drive_from_s,
            hours_a_day=plan.hours_a_day,
            map=sources.map,
            canopy=sources.canopy,
            canopy_cover_frac=sources.canopy_cover_frac,
            canopy_height=sources.canopy_heights[0] if sources.canopy_heights else sources.canopy_height_m,
            road_width=FIT if sources.fit_road_width else sources.road_width_m,
            drive_side=None if sources.drive_side == "right" else sources.drive_side,
            season=None if sources.season == "auto" else sources.season,
            trees=None if sources.trees == Trees() else sources.trees,
            crown_transmittance_frac=sources.crown_transmittance_frac,
            leaf_type=sources.leaf_type,
            terrain=sources.terrain,
            surface=sources.surface,
            strict=sources.strict,
            units=None if self.units == "metric" else self.units,
            also=self.also,
            **self._skies_stated(),
        )

    def _depart(self) -> datetime | None:
        """Return the departure as the clock shows it; with its offset where the clock alone would mislead."""
        if self.departure is None:
            return None
        local = datetime.fromtimestamp(self.departure.utc_s, ZoneInfo(self.time_zone))
        shown = local.replace(tzinfo=None, fold=0)
        try:
            same = departure_at(shown, self.time_zone) == self.departure
        except UsageError:
            same = False
        return shown if same else local.astimezone(timezone(local.utcoffset() or timedelta()))

    def _skies_stated(self) -> dict[str, Any]:
        """Return what has to be said of the sky, in words where words do."""
        first = self.skies[0]
        weather = first.weather
        named = self.skies[1:] or first.index is not None or (weather is not None and weather.tells_light)
        usual = "climate" if weather is not None and weather.typical else "tomorrow"
        words: dict[str, Any] = {
            "sky": None if named else first.name,
            "weather": weather,
            "sky_spans": first.spans,
            "forecast": None if first.forecast == usual else first.forecast,
            "air_c": first.air_c,
            "wind_mps": None if first.wind_mps == 1.0 else first.wind_mps,
        }
        return words if skies_of(Stated(**words), self.route) == self.skies else {"skies": self.skies}

    @property
    def time_zone(self) -> str:
        """The zone of the trip's local times: the plan's, or that of the route's start."""
        if self.plan.time_zone is not None:
            return self.plan.time_zone
        return time_zone_at(float(self.route.latitude_deg[0]), float(self.route.longitude_deg[0]))[0]

    def drive(self, departures_utc_s: FloatArray | None = None) -> Segments:
        """Return the timed drive: at the trip's departure, or at many, UTC seconds (d,).

        Raises:
            UsageError: pace or departure are unknown, or the plan does not fit the route.
            InputError: the route cannot be driven.
        """
        stated = as_trip_file(self.stated(), self.route, self.rig)
        if departures_utc_s is not None or self.departure is None:
            return replace(drive(self.route, departures_utc_s, plan=self.plan), stated=stated)
        segments = drive(self.route, np.array([self.departure.utc_s]), plan=self.plan)
        return replace(segments, notes=(*self.departure.notes, *segments.notes), stated=stated)

    def fitted(self) -> Rig:
        """Return the rig; UsageError where nothing is said of it."""
        return fitted(self.rig)


def fitted(rig: Rig | None) -> Rig:
    """Return a rig; UsageError where there is none."""
    if rig is None:
        raise UsageError(
            "which panel is on the roof? give --panel 200W, or a rig file with --rig van.toml "
            "(routesolar rig writes one)"
        )
    return rig


def read_trip(path: Paths) -> Trip:
    """Return the trip of a trip file.

    Raises:
        InputError: it or a file that it names cannot be used; the message lists all that is wrong with it.
    """
    return Trip.of(read_trip_file(path_of(path, "path")))
