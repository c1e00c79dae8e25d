"""Where to park near a stop of a trip, and which way to face."""

from dataclasses import replace

from routesolar.decisions.park import Parking, find_parking
from routesolar.decisions.stay import Stay, spots_around, stay_along, stay_at_stop
from routesolar.errors import InputError, UsageError
from routesolar.files.values import is_quantity
from routesolar.trip.drawable import Drawable
from routesolar.trip.route import Stretch
from routesolar.trip.segments import Segments
from routesolar.trips.around import surroundings
from routesolar.trips.trip import Trip
from routesolar.trips.words import metres, seconds


def park(
    trip: Trip, at: str | float, *, stay: str | float | None = None, within: str | float = "300m"
) -> Parking:
    """Return the spots around a stop, most energy first: `at` is its name, or how far along the drive.

    Lengths are text such as "42km" or metres, the stay is text such as "3h" or seconds. A distance needs a
    stay; a stop lasts as planned. The height raster stands alone there: cover says how dense trees are, not
    where each stands. What else is said of trees at that kilometre holds.

    Raises:
        UsageError: there is no such stop, or a distance comes without a time.
        InputError: no height raster is given, or every place is under trees.
    """
    rig = trip.fitted()
    for_s = None if stay is None else seconds(stay)
    place = metres(at, "at") if not isinstance(at, str) or is_quantity(at, "length") else at
    drive = trip.drive()
    there = _stay(drive, place, for_s)
    if not trip.sources.canopy_heights:
        raise InputError(
            "parking needs a height raster that shows single trees, 5 m or finer, around the stop; "
            "give it with --canopy-height heights.tif"
        )
    places = spots_around(there, metres(within, "within"))
    around = surroundings(_with_heights_alone(trip), places)
    found = find_parking(there, places, rig, around.canopy, around.terrain, trip.skies[0])
    drawable = Drawable(segments=places, rig=rig, around=around, sky=trip.skies[0])
    return replace(found, title=f"{trip.route.name}: {there.name}", drives=(drawable,), road=drive)


def _stay(drive: Segments, at: str | float, for_s: float | None) -> Stay:
    if isinstance(at, str):
        return stay_at_stop(drive, at, for_s)
    if for_s is None:
        where = f"{at / 1000:g}km"
        raise UsageError(f"how long is the stay at {where}? add --for 3h: --at {where} --for 3h")
    return stay_along(drive, at, for_s)


def _with_heights_alone(trip: Trip) -> Trip:
    """Return the trip with no word on where trees stand but its height raster."""
    return replace(
        trip,
        sources=replace(trip.sources, canopy=(), canopy_cover_frac=None),
        plan=replace(trip.plan, stretches=tuple(map(_habit_only, trip.plan.stretches))),
    )


def _habit_only(stretch: Stretch) -> Stretch:
    """Return what is said of the trees themselves, without where they stand."""
    return replace(stretch, canopy_cover_frac=None, canopy_height_m=None, road_width_m=None, lane_offset_m=None)
