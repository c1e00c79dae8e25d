"""A drive with all that its map needs."""

from dataclasses import dataclass
from typing import NamedTuple

from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.noun import Noun
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Surroundings


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Drawable(Noun):
    """A drive that can be drawn. `watts` along the road are None where they are still to be computed."""

    segments: Segments
    rig: Rig
    around: Surroundings
    sky: Sky
    watts: DepartureWatts | None = None


class Shown(NamedTuple):
    """What an answer is called, and the drives that its page draws."""

    title: str = ""
    drives: tuple[Drawable, ...] = ()


NOT_SHOWN = Shown()
