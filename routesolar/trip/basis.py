"""What an answer was computed from, whatever was asked."""

from dataclasses import dataclass

from routesolar.trip.arrays import FloatArray
from routesolar.trip.drawable import Drawable
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.noun import Noun
from routesolar.trip.own_shade import OwnShade
from routesolar.trip.rig import Rig
from routesolar.trip.route import SourceFile
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.trees_used import TreesUsed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Basis(Noun):
    """The drive, the rig, the sky, trees and hills.

    `air_c` (n,) is what was taken where that is known, `pace` says where the speeds came from. `maps` are map
    files, `attribution` what their licence asks for, `road` the road on them.
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
    maps: tuple[SourceFile, ...] = ()
    attribution: str = ""
    road: MappedRoad | None = None
    notes: tuple[str, ...] = ()

    @property
    def inputs(self) -> tuple[tuple[str, SourceFile], ...]:
        """The files it was computed from, each with what it told of."""
        weather = self.sky.weather
        read = [("route", file) for file in self.segments.files]
        if self.rig.file is not None:
            read.append(("rig", self.rig.file))
        if weather is not None and weather.sha256:
            read.append(("weather", SourceFile(name=weather.name, sha256=weather.sha256)))
        read += [("map", file) for file in self.maps]
        read += [("trees", file) for file in self.canopy.files]
        return (*read, *(("terrain", file) for file in self.terrain.files))


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
        maps=around.maps,
        attribution=around.attribution,
        road=around.road,
        notes=drive.segments.notes,
    )
