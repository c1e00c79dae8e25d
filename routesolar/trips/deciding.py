"""When to leave, in the day and in the year, and how large a panel: asked of a trip."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from routesolar.decisions.calendar import YearCalendar, year_calendar
from routesolar.decisions.criterion import BestBy, best_by_named
from routesolar.decisions.departures import Departures, ranked
from routesolar.decisions.roof import Offer, fit_roof
from routesolar.decisions.size import Sizing, size_panels
from routesolar.decisions.starts import day_starts_utc_s, year_starts_utc_s
from routesolar.decisions.waiting import parked_until_sunset
from routesolar.errors import UsageError
from routesolar.model.sweeping import sweep
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import to_local
from routesolar.trip.drawable import Drawable, Shown
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Surroundings
from routesolar.trip.sweep import Sweep
from routesolar.trips.around import surroundings
from routesolar.trips.counting import from_one_start, is_counted, lasting_of, to_one_end
from routesolar.trips.trip import Trip
from routesolar.trips.words import clock_time_s, day_named, seconds

RATED_W = (50.0, 100.0, 200.0, 400.0)


def rank_departures(
    trip: Trip,
    day: str | date | None = None,
    *,
    first: str | float = "05:00",
    last: str | float = "20:00",
    every: str | float = "15min",
    then_park: bool = False,
    best_by: str | BestBy = BestBy.ENERGY,
) -> Departures:
    """Return the departures of a day, the best first; without a day, that of the trip's own departure.

    `first` and `last` are clock times, `every` is a duration, each as text or in seconds. With `then_park` the
    hours parked after arrival until sunset count too. `best_by` is "energy" that gets into loads and battery,
    "charge" at the end, or "lasting" loads. Where the trip stays at its end until a time, and for charge and
    lasting, all are counted from the first departure on, standing at the start, to one end.

    Raises:
        UsageError: no day is known, the sun is down in all departures, or there is no battery to rank by.
    """
    by = best_by_named(best_by, trip.fitted())
    result, segments, around = departures_ranked(
        trip, departures_of_day(trip, day, first, last, every), by, then_park
    )
    best = int(np.flatnonzero(segments.departure_utc_s == result.best.depart_utc_s)[0])
    return replace(result, **lasting_of(trip, segments, around.canopy, around.terrain, best)._asdict())


def departures_ranked(
    trip: Trip, starts_utc_s: FloatArray, best_by: BestBy, then_park: bool = False
) -> tuple[Departures, Segments, Surroundings]:
    """Return departures of a trip, the best first; all that is counted of their drives, and what stands around.

    Raises:
        UsageError: the sun is down in all departures.
    """
    segments = trip.drive(starts_utc_s)
    if then_park:
        segments = parked_until_sunset(segments)
    counts = is_counted(trip, segments, best_by)
    if counts:
        segments = to_one_end(segments)
    counted = from_one_start(segments) if counts else segments
    found, drawable = swept(trip, counted)
    around = drawable.around
    if counted is not segments:  # drawn is the drive alone
        drawable = replace(drawable, segments=segments, around=surroundings(trip, segments))
    from_utc_s = float(segments.departure_utc_s.min()) if counts else None
    return ranked(found, Shown(trip.route.title, (drawable,)), best_by, from_utc_s), counted, around


def calendar(
    trip: Trip,
    year: int | None = None,
    *,
    first: str | float = "05:00",
    last: str | float = "20:00",
    every: str | float = "15min",
    best_by: str | BestBy = BestBy.ENERGY,
) -> YearCalendar:
    """Return months x departure hours: the 15th of each month of a year, else of this year.

    `best_by`, and from when to when departures are counted, is as in `rank_departures`.

    Raises:
        UsageError: no departure of the year sees the sun.
    """
    by = best_by_named(best_by, trip.fitted())
    times_s = clock_time_s(first), clock_time_s(last), seconds(every)
    starts_utc_s = year_starts_utc_s(year or date.today().year, *times_s, time_zone=trip.time_zone)
    segments = trip.drive(starts_utc_s)
    counted = is_counted(trip, segments, by)
    if counted:
        segments = to_one_end(segments)
    whole = from_one_start(segments) if counted else segments
    around = surroundings(trip, whole)
    stated = around.canopy.certain()  # a calendar gives no percentiles
    found = sweep(whole, trip.fitted(), stated, around.terrain, trip.skies)
    if whole is not segments:
        around = surroundings(trip, segments)
    drawable = Drawable(segments=segments, rig=trip.fitted(), around=around, sky=trip.skies[0])
    return year_calendar(found, Shown(trip.route.title, (drawable,)), by, counted)


def size(
    trip: Trip,
    rated_w: Sequence[float] | None = None,
    *,
    capacity_wh: Sequence[float] = (),
    charge_w: Sequence[float] = (),
    roof_m: tuple[float, float] | None = None,
    offers: Sequence[Offer] = (),
    best_by: str | BestBy = BestBy.ENERGY,
) -> Sizing:
    """Return what the rig's panels would give at each rating, against the loads.

    Each with every capacity of the battery and every power of charging by the engine (0: none) that is given;
    without them, the rig's own. With the length and width of the roof that is free, also how panels on offer
    fit it, and what those that fit would give. Without ratings, those that fit or RATED_W. `best_by` names the
    first size than which none brings more than a trifle more: "energy" used, "charge" at the end, or "lasting".

    Raises:
        UsageError: a size is not above zero, the rig has no battery to vary, or a roof comes without panels.
    """
    if offers and roof_m is None:
        raise UsageError("--offer fits panels on a roof; give its size with --roof 2.6x1.4 (metres)")
    if roof_m is not None and not offers:
        raise UsageError("which panels for the roof? give --offer 200W:1.58x0.70 (watts:length x width)")
    fits = () if roof_m is None else fit_roof(*roof_m, list(offers))
    rig = trip.fitted()
    by = best_by_named(best_by, rig)
    segments = trip.drive()
    around = surroundings(trip, segments)
    drawable = Drawable(segments=segments, rig=rig, around=around, sky=trip.skies[0])
    trees = around.canopy, around.terrain
    shown = Shown(trip.route.title, (drawable,))
    fitting = [fit.rated_w for fit in fits if fit.mixed]
    ratings = [*(rated_w if rated_w is not None else () if fitting else RATED_W), *fitting]
    found = size_panels(
        segments,
        rig,
        *trees,
        trip.skies[0],
        ratings,
        fits,
        shown,
        capacity_wh=capacity_wh,
        charge_w=charge_w,
    )
    return replace(found, best_by=by)


def departures_of_day(
    trip: Trip, day: str | date | None, first: str | float, last: str | float, every: str | float
) -> FloatArray:
    """Return the departures of a day to try, UTC seconds (d,); without a day, that of the trip's departure.

    Raises:
        UsageError: no day is known, or the times make no range.
    """
    if day is None:
        if trip.departure is None:
            raise UsageError("which day? give --date 2026-11-20")
        day = to_local(trip.departure.utc_s, trip.time_zone).date()
    times_s = clock_time_s(first), clock_time_s(last), seconds(every)
    return day_starts_utc_s(day_named(day), *times_s, time_zone=trip.time_zone)


def swept(trip: Trip, segments: Segments) -> tuple[Sweep, Drawable]:
    """Return every departure of a drive of the trip reduced, and what drawing it needs."""
    rig, around = trip.fitted(), surroundings(trip, segments)
    found = sweep(segments, rig, around.canopy, around.terrain, trip.skies)
    return found, Drawable(segments=segments, rig=rig, around=around, sky=trip.skies[0])
