"""The chain of one drive: its scene, and the harvest under any skies."""

from collections.abc import Sequence
from dataclasses import replace

from routesolar.errors import UsageError
from routesolar.model.own_shade import in_own_shade, set_own_scene
from routesolar.model.scene import Scene, set_scenes
from routesolar.model.simulation import simulate_scene
from routesolar.trip.harvest import Harvest
from routesolar.trip.own_shade import OwnShade
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Surroundings
from routesolar.trips.around import surroundings
from routesolar.trips.trip import Trip, fitted


def scene(segments: Segments, rig: Rig | None, around: Surroundings | OwnShade) -> Scene:
    """Return a drive under its sun and behind its trees, or in a shade of one's own; ready for any sky.

    Raises:
        UsageError: there is no rig, or the surroundings or the shade are of another drive.
    """
    if isinstance(around, OwnShade):
        around = in_own_shade(segments, around)
    if not isinstance(around, Surroundings):
        raise UsageError(f"around is {type(around).__name__}; give Surroundings, or an OwnShade")
    if around.shade is not None:
        return set_own_scene(segments, fitted(rig), around, around.shade)
    return scenes(segments, (fitted(rig),), around)[0]


def scenes(segments: Segments, rigs: Sequence[Rig], around: Surroundings) -> tuple[Scene, ...]:
    """Return the scene of a drive for each rig, as `scene` does: its trees are looked at once for all of them.

    Raises:
        UsageError: the surroundings are of another drive.
    """
    found = set_scenes(segments, rigs, around.canopy, around.terrain)
    return tuple(replace(each, around=around) for each in found)


def harvest(scene: Scene, skies: Sequence[Sky] | Sky, *, with_losses: bool = True) -> Harvest:
    """Return what one drive brings, whole: every array, leg, loss and sky; the first sky leads.

    Without losses their ledger is left out, and what a panel set out at stops adds; that is left out in a shade
    of one's own too, since the panel may stand in another.

    Raises:
        UsageError: no sky is given, or the drive has several departures.
    """
    skies = (skies,) if isinstance(skies, Sky) else tuple(skies)
    if not skies or len(scene.segments.departure_utc_s) != 1:
        raise UsageError("a harvest takes one departure and at least one sky; rank_departures takes many")
    return simulate_scene(scene, skies, with_losses=with_losses)


def harvest_trip(trip: Trip) -> Harvest:
    """Return the harvest of a trip's drive under its skies.

    Raises:
        UsageError, InputError, CoverageError: as Trip.drive and surroundings.
    """
    rig, segments = trip.fitted(), trip.drive()
    return harvest(scene(segments, rig, surroundings(trip, segments)), trip.skies)
