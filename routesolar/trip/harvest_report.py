"""A harvest together with what went into it: all that a written result needs to know."""

from dataclasses import dataclass, field

from routesolar.trip.basis import Basis
from routesolar.trip.ground import Ground
from routesolar.trip.harvest import Harvest
from routesolar.trip.noun import Noun
from routesolar.trip.route import title_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class HarvestReport(Noun):
    """One drive's harvest, what it was computed from, and what maps draw beneath it.

    `software` is the program's name and version, `rests_on` says in one line what the answer rests on.
    """

    harvest: Harvest
    basis: Basis
    software: str
    ground: Ground = field(default_factory=Ground)
    rests_on: str = ""

    @property
    def title(self) -> str:
        """What the route files call the road, else their names."""
        return title_of(self.harvest.segments.files, self.harvest.segments.route_name)
