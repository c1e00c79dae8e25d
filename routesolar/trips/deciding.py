"""When to leave, in the day and in the year, and how large a panel: asked of a trip."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from routesolar.decisions import departures
from routesolar.decisions.calendar import YearCalendar, year_calendar
from routesolar.decisions.daylight import parked_until_sunset
from routesolar.decisions.departures import Departures
from routesolar.decisions.roof import Offer, fit_roof
from routesolar.decisions.size import Sizing, size_panels
from routesolar.decisions.starts import day_starts_utc_s, year_starts_utc_s
from routesolar.errors import UsageError
from routesolar.model.sweeping import sweep
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import to_local
from routesolar.trip.drawable import Drawable
from routesolar.trip.segments import Segments
from routesolar.trip.sweep import Sweep
from routesolar.trips.around import surroundings
from routesolar.trips.trip import Trip

RATED_W = (50.0, 100.0, 200.0, 400.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockRange:
    """Clock times of a day to leave at, first and last included, in seconds after midnight."""

    first_s: float = 5 * 3600.0
    last_s: float = 20 * 3600.0
    every_s: float = 900.0

    def of_day(self, day: date, time_zone: str) -> FloatArray:
        """Return these departures of a day, UTC seconds (d,)."""
        return day_starts_utc_s(day, self.first_s, self.last_s, self.every_s, time_zone)

    def of_year(self, year: int, time_zone: str) -> FloatArray:
        """Return these departures of the middle of every month, UTC seconds (d,)."""
        return year_starts_utc_s(year, self.first_s, self.last_s, self.every_s, time_zone)


def rank_departures(
    trip: Trip, day: date | None = None, clock: ClockRange | None = None, *, then_park: bool = False
) -> Departures:
    """Return the departures of a day, most energy first; without a day, that of the trip's own departure.

    With `then_park` the hours parked after arrival until sunset count too.

    Raises:
        UsageError: no day is known, or the sun is down in all departures.
    """
    segments = trip.drive((clock or ClockRange()).of_day(day_of(trip, day), trip.time_zone))
    if then_park:
        segments = parked_until_sunset(segments)
    found, drawable = swept(trip, segments)
    return replace(departures.rank_departures(found), title=trip.route.name, drives=(drawable,))


def calendar(trip: Trip, year: int, clock: ClockRange | None = None) -> YearCalendar:
    """Return months x departure hours: the 15th of each month of a year.

    Raises:
        UsageError: no departure of the year sees the sun.
    """
    segments = trip.drive((clock or ClockRange()).of_year(year, trip.time_zone))
    around = surroundings(trip, segments)
    stated = around.canopy.certain()  # a calendar gives no percentiles
    found = sweep(segments, trip.fitted(), stated, around.terrain, trip.skies)
    return replace(year_calendar(found), title=trip.route.name)


def size(
    trip: Trip,
    rated_w: Sequence[float] = RATED_W,
    *,
    roof_m: tuple[float, float] | None = None,
    offers: Sequence[Offer] = (),
) -> Sizing:
    """Return what the rig's panels would give at each rating, against the loads.

    With the length and width of the roof that is free, also how panels on offer fit it.

    Raises:
        UsageError: no rating is given or one is not above zero, or a roof comes without panels.
    """
    if offers and roof_m is None:
        raise UsageError("--offer fits panels on a roof; say how large it is with --roof 2.6x1.4 (metres)")
    if roof_m is not None and not offers:
        raise UsageError("which panels for the roof? give --offer 200W:1.58x0.70 (watts:length x width)")
    fits = () if roof_m is None else fit_roof(*roof_m, list(offers))
    rig = trip.fitted()
    segments = trip.drive()
    around = surroundings(trip, segments)
    found = size_panels(segments, rig, around.canopy, around.terrain, trip.skies[0], list(rated_w))
    return replace(found, title=trip.route.name, fits=fits)


def day_of(trip: Trip, day: date | None) -> date:
    """Return the day asked for, else that of the trip's departure; UsageError without either."""
    if day is not None:
        return day
    if trip.departure is None:
        raise UsageError("which day? give --date 2026-11-20")
    return to_local(trip.departure.utc_s, trip.time_zone).date()


def swept(trip: Trip, segments: Segments) -> tuple[Sweep, Drawable]:
    """Return every departure of a drive of the trip reduced, and what drawing it needs."""
    rig, around = trip.fitted(), surroundings(trip, segments)
    found = sweep(segments, rig, around.canopy, around.terrain, trip.skies)
    return found, Drawable(segments=segments, rig=rig, around=around, sky=trip.skies[0])
