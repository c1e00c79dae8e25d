"""A trip as it is asked about: everything said of it, read and checked once."""

from dataclasses import dataclass, field, replace

import numpy as np

from routesolar.errors import UsageError
from routesolar.timetable import Departure, drive, time_zone_at
from routesolar.trip.arrays import FloatArray
from routesolar.trip.noun import Noun
from routesolar.trip.rig import Rig
from routesolar.trip.route import Plan, Route
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Trees


@dataclass(frozen=True, slots=True, kw_only=True)
class Sources:
    """Where trees and hills are read from, and what is said of them for the whole trip.

    Rasters are paths or web addresses, the first with data wins. Cover holds where no raster is given, height
    where no raster of heights speaks. A road width of None is the usual one; `fit_road_width` takes what the
    cover raster shows. `crown_transmittance_frac` None leaves it to the season. `strict` refuses what is not
    covered.
    """

    canopy: tuple[str, ...] = ()
    canopy_cover_frac: float | None = None
    canopy_heights: tuple[str, ...] = ()
    canopy_height_m: float | None = None
    road_width_m: float | None = None
    fit_road_width: bool = False
    trees: Trees = field(default_factory=Trees)
    leaf_type: tuple[str, ...] = ()
    crown_transmittance_frac: float | None = None
    season: str = "auto"
    drive_side: str = "right"
    terrain: tuple[str, ...] = ()
    strict: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Trip(Noun):
    """A route, when and how it is driven, with what, under which skies, and what stands along it.

    Without a departure the recorded start holds; without a rig only the drive can be asked for. The first of
    `skies` leads. `units` is for display, `also` names further formats of the route to write.
    """

    route: Route
    plan: Plan = field(default_factory=Plan)
    departure: Departure | None = None
    rig: Rig | None = None
    skies: tuple[Sky, ...]
    sources: Sources = field(default_factory=Sources)
    units: str = "metric"
    also: tuple[str, ...] = ()

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
        if departures_utc_s is not None or self.departure is None:
            return drive(self.route, departures_utc_s, plan=self.plan)
        segments = drive(self.route, np.array([self.departure.utc_s]), plan=self.plan)
        return replace(segments, notes=(*self.departure.notes, *segments.notes))

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
