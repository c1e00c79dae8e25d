"""What an answer was computed from, whatever was asked."""

from dataclasses import dataclass

from routesolar.trip.arrays import FloatArray
from routesolar.trip.drawable import Drawable
from routesolar.trip.noun import Noun
from routesolar.trip.own_shade import OwnShade
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.trees_used import TreesUsed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Basis(Noun):
    """The drive, the rig, the sky, trees and hills.

    `air_c` (n,) is what was taken where that is known, `pace` says where the speeds came from.
    """

    segments: Segments
    rig: Rig
    sky: Sky
    canopy: Canopy
    terrain: Terrain
    trees: TreesUsed | None = None
    shade: OwnShade | None = None
    air_c: FloatArray | None = None
    pace: str = ""
    notes: tuple[str, ...] = ()


def basis_of(drive: Drawable) -> Basis:
    """Return what a drive's answer was computed from."""
    around = drive.around
    return Basis(
        segments=drive.segments,
        rig=drive.rig,
        sky=drive.sky,
        canopy=around.canopy,
        terrain=around.terrain,
        trees=around.used,
        shade=around.shade,
        pace=drive.segments.pace,
        notes=drive.segments.notes,
    )
