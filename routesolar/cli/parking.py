"""The spots around a stop and what stands around them."""

from dataclasses import replace

from routesolar.cli.request import Request, Surroundings, surroundings_of, timed
from routesolar.cli.running import progress
from routesolar.decisions.stay import Stay, spots_around, stay_along, stay_at_stop
from routesolar.errors import InputError, UsageError
from routesolar.files import values
from routesolar.trip.rig import Rig
from routesolar.trip.route import Stretch
from routesolar.trip.segments import Segments


def look_around(
    request: Request, rig: Rig, at: str, stay: str | None, within: str
) -> tuple[Stay, Segments, Surroundings]:
    """Return the stay at a stop or distance, the spots around it, and the trees and hills around these.

    The height raster stands alone there: cover says how dense trees are, not where each stands. What else is
    said of trees at that kilometre holds.

    Raises:
        UsageError: there is no such stop, or a distance comes without --for.
        InputError: no height raster is given.
    """
    for_s = None if stay is None else values.duration_s(stay, "for")
    drive = timed(request)
    if values.is_quantity(at, "length"):
        if for_s is None:
            raise UsageError(f"how long is the stay at {at}? add --for 3h: --at {at} --for 3h")
        there = stay_along(drive, values.length_m(at, "at"), for_s)
    else:
        there = stay_at_stop(drive, at, for_s)
    height = request.said.canopy_height
    if height is None or values.is_quantity(height, "length"):
        raise InputError(
            "parking needs a height raster that shows single trees, 5 m or finer, around the stop; "
            "give it with --canopy-height heights.tif"
        )
    places = spots_around(there, values.length_m(within, "within"))
    alone = replace(
        request,
        said=replace(request.said, canopy=None, canopy_cover=None),
        plan=replace(request.plan, stretches=tuple(map(_habit_only, request.plan.stretches))),
    )
    with progress("reading what stands around the stop"):
        return there, places, surroundings_of(alone, places, rig)


def _habit_only(stretch: Stretch) -> Stretch:
    """Return what is said of the trees themselves, without where they stand."""
    return replace(stretch, canopy_cover_frac=None, canopy_height_m=None, road_width_m=None, lane_offset_m=None)
