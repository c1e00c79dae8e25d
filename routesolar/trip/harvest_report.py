"""A harvest together with what went into it: all that a written result needs to know."""

from dataclasses import dataclass, field

from routesolar.trip.basis import Basis
from routesolar.trip.drawable import Drawable
from routesolar.trip.ground import Ground
from routesolar.trip.harvest import Harvest, SetOut
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.noun import Noun
from routesolar.trip.own_shade import OwnShade
from routesolar.trip.rig import Rig
from routesolar.trip.route import SourceFile, title_of
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.trees_used import TreesUsed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class HarvestReport(Noun):
    """One drive's harvest, the files it came from and what was assumed.

    `pace` says in words where the speeds came from ("80 km/h", "as recorded"); `software` is the program's
    name and version. `trees` says where the trees came from, where that is known. `drives` is what a map of it
    needs. `set_out` is None where there is no stop or a loose panel is there already. `shade` is one's own
    where that stands for trees and hills. `rests_on` says in one line what the answer rests on.
    """

    harvest: Harvest
    route_name: str
    files: tuple[SourceFile, ...]
    rig: Rig
    sky: Sky
    canopy: Canopy
    terrain: Terrain
    pace: str
    software: str
    trees: TreesUsed | None = None
    ground: Ground = field(default_factory=Ground)
    drives: tuple[Drawable, ...] = ()
    set_out: SetOut | None = None
    shade: OwnShade | None = None
    rests_on: str = ""
    maps: tuple[SourceFile, ...] = ()
    attribution: str = ""
    road: MappedRoad | None = None

    @property
    def title(self) -> str:
        """What the route files call the road, else their names."""
        return title_of(self.files, self.route_name)

    @property
    def basis(self) -> Basis:
        """What the harvest was computed from."""
        return Basis(
            segments=self.harvest.segments,
            rig=self.rig,
            sky=self.sky,
            canopy=self.canopy,
            terrain=self.terrain,
            trees=self.trees,
            shade=self.shade,
            air_c=self.harvest.air_c,
            pace=self.pace,
            maps=self.maps,
            attribution=self.attribution,
            road=self.road,
            notes=self.harvest.notes,
        )
