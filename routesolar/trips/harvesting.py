"""One drive of a trip computed whole."""

from routesolar.decisions.set_out import set_out_gain
from routesolar.model.simulation import simulate
from routesolar.trip.drawable import Drawable
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trips.around import surroundings
from routesolar.trips.trip import Trip
from routesolar.version import VERSION


def harvest_trip(trip: Trip) -> HarvestReport:
    """Return the harvest of a trip's drive with all that went into it.

    Raises:
        UsageError, InputError, CoverageError: as Trip.drive and surroundings.
    """
    rig, sky = trip.fitted(), trip.skies[0]
    segments = trip.drive()
    around = surroundings(trip, segments)
    harvest = simulate(segments, rig, around.canopy, around.terrain, trip.skies)
    return HarvestReport(
        harvest=harvest,
        route_name=trip.route.name,
        files=trip.route.files,
        rig=rig,
        sky=sky,
        canopy=around.canopy,
        terrain=around.terrain,
        trees=around.used,
        pace=_pace(trip),
        software=f"routesolar {VERSION}",
        drives=(Drawable(segments=segments, rig=rig, around=around, sky=sky),),
        set_out=set_out_gain(harvest, rig, around.canopy, around.terrain, sky),
    )


def _pace(trip: Trip) -> str:
    """Return in words where the speeds came from."""
    plan = trip.plan
    if plan.speed_mps is None:
        return "as in the trip file" if plan.paces else "as recorded"
    others = ", other paces by the trip file" if plan.paces else ""
    return f"{plan.speed_mps * 3.6:.4g} km/h{others}"
