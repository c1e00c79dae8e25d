"""Where to park near a stop of a trip, and which way to face."""

from dataclasses import replace

import numpy as np

from routesolar.decisions.criterion import BestBy, best_by_named
from routesolar.decisions.park import Parking, find_parking
from routesolar.decisions.stay import Stay, spots_around, stay_along, stay_at_stop
from routesolar.errors import InputError, UsageError
from routesolar.files.values import is_quantity
from routesolar.model.battery import run_ledger
from routesolar.model.scene import set_scene
from routesolar.model.variants import expected_w
from routesolar.model.warmth import day_before_c
from routesolar.timetable import places_along
from routesolar.timetable.stops import END
from routesolar.trip.drawable import Drawable
from routesolar.trip.rig import Rig
from routesolar.trip.route import Stretch
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Surroundings
from routesolar.trips.around import surroundings
from routesolar.trips.trip import Trip
from routesolar.trips.words import metres, seconds


def park(
    trip: Trip,
    at: str | float,
    *,
    stay: str | float | None = None,
    within: str | float = "300m",
    best_by: str | BestBy = BestBy.ENERGY,
) -> Parking:
    """Return the spots around a stop, the best first: `at` is its name, or how far along the drive.

    Lengths are text such as "42km" or metres, the stay is text such as "3h" or seconds. A distance needs a
    stay; a stop lasts as planned. `at` may also be "end" or a place passed, by its name; the stay begins on
    arrival. A height raster stands alone there: cover says how dense trees are, not where each stands. Without
    one, any spot is free, and trees are those of the cover raster, or as said, around a clearing at the stop.
    What else is said of trees at that kilometre holds. `best_by` is "energy" that gets into loads and battery,
    "charge" at the end of the stay, or "lasting" loads; the battery is as full as the drive has left it.

    Raises:
        UsageError: there is no such stop, or a distance comes without a time.
        InputError: the height raster does not show single trees, or every place is under some.
    """
    rig = trip.fitted()
    by = best_by_named(best_by, rig)
    for_s = None if stay is None else seconds(stay)
    place = metres(at, "at") if not isinstance(at, str) or is_quantity(at, "length") else at
    drive = trip.drive()
    there = _stay(trip, drive, place, for_s)
    places = spots_around(there, metres(within, "within"))
    around, note = _around(trip, places)
    arrived = _on_arrival(trip, drive, there)
    found = find_parking(there, places, arrived, around.canopy, around.terrain, trip.skies[0], by)
    found = replace(found, warnings=(*found.warnings, *note))
    drawable = Drawable(segments=places, rig=rig, around=around, sky=trip.skies[0])
    return replace(found, title=f"{trip.route.title}: {there.name}", drives=(drawable,), road=drive)


def _on_arrival(trip: Trip, drive: Segments, there: Stay) -> Rig:
    """Return the rig with its battery as full as the expected watts leave it when the stay begins."""
    rig, before = trip.fitted(), drive.start_utc_s[0] < there.start_utc_s - 1e-3
    if rig.battery is None or not before.any():
        return rig
    around = surroundings(trip, drive)
    scene = set_scene(drive, rig, around.canopy.certain(), around.terrain)
    watts, air_c = expected_w(scene, trip.skies[0])
    timing = drive.start_utc_s, drive.duration_s
    day_c = day_before_c(drive, *timing, air_c)
    ledger = run_ledger(*timing, drive.stopped, watts, air_c, rig, drive.time_zone, day_c)
    moments_s = np.append(drive.start_utc_s[0, 0], drive.start_utc_s[0] + drive.duration_s[0])
    course = np.append(rig.battery.start_soc_frac, ledger.soc_frac[0])
    soc_frac = float(np.interp(there.start_utc_s, moments_s, course))
    return replace(rig, battery=replace(rig.battery, start_soc_frac=soc_frac))


def _around(trip: Trip, places: Segments) -> tuple[Surroundings, tuple[str, ...]]:
    """Return trees and hills around the spots, and a warning where trees go by cover in spite of heights."""
    sources = trip.sources
    if not (sources.canopy_heights or sources.surface):
        return surroundings(trip, places), ()
    covered = bool(sources.canopy) or sources.canopy_cover_frac is not None
    try:
        around = surroundings(_with_heights_alone(trip), _on_the_road(places))
        coarse = around.canopy.drawn  # then a map's woods stand in their place
    except InputError:
        if not covered:
            raise
        coarse = True
    if coarse and covered:
        note = "the heights do not show single trees, so no spot is known to be free; trees go by their cover"
        return surroundings(trip, places), (note,)
    return around, ()


def _stay(trip: Trip, drive: Segments, at: str | float, for_s: float | None) -> Stay:
    if not isinstance(at, str):
        return _stay_along(drive, at, for_s, f"{at / 1000:g}km")
    wanted = at.strip().casefold()
    stops = [leg.name.casefold() for leg in drive.legs if leg.kind == "stop"]
    passed = {place.name.casefold(): place.along_m for place in reversed(places_along(trip.route, trip.plan))}
    end_m = float(drive.along_m[-1] + drive.length_m[-1])
    along_m = passed.get(wanted, end_m if wanted == END else None)
    if wanted in stops or along_m is None:
        return stay_at_stop(drive, at, for_s)
    return _stay_along(drive, along_m, for_s, at)._replace(name=at)


def _stay_along(drive: Segments, along_m: float, for_s: float | None, said: str) -> Stay:
    if for_s is None:
        raise UsageError(f"how long is the stay at {said}? add --for 3h: --at {said} --for 3h")
    return stay_along(drive, along_m, for_s)


def _with_heights_alone(trip: Trip) -> Trip:
    """Return the trip with no word on where trees stand but its height raster."""
    return replace(
        trip,
        sources=replace(trip.sources, canopy=(), canopy_cover_frac=None),
        plan=replace(trip.plan, stretches=tuple(map(_habit_only, trip.plan.stretches))),
    )


def _on_the_road(places: Segments) -> Segments:
    return replace(places, legs=tuple(replace(leg, clearing=None) for leg in places.legs))


def _habit_only(stretch: Stretch) -> Stretch:
    """Return what is said of the trees themselves, without where they stand."""
    return replace(stretch, canopy_cover_frac=None, canopy_height_m=None, road_width_m=None, lane_offset_m=None)
