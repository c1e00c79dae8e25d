"""Room for labels on a still map: none lies over another, and over the road only where nothing else is free."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from routesolar.trip.arrays import FloatArray

_CELL = 6.0  # side of the cells that tell where the road runs, in the picture's units
_ROAD_COST = 4.0
Place = tuple[float, float]


@dataclass(slots=True, kw_only=True)
class Room:
    """A picture's free room; boxes put into it are taken. y runs down."""

    width: float
    height: float
    road: set[tuple[int, int]]
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    def put(
        self, at: Place, size: Place, offsets: Iterable[Place], *, shy: bool = True, most_road: float = math.inf
    ) -> Place | None:
        """Return the middle of a label near `at` and take its place; None where none of the offsets is free.

        A shy label keeps off the road where it can; any other takes the first free place. None hides more than
        `most_road` cells of road.
        """
        best, least = None, math.inf
        for number, (east, south) in enumerate(offsets):
            x, y = at[0] + east, at[1] + south
            box = (x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2)
            if not self._is_free(box):
                continue
            road = self._road_in(box) if shy else 0
            if road > most_road:
                continue
            cost = number * 0.5 + _ROAD_COST * road
            if cost < least:
                best, least = (x, y, box), cost
        if best is None:
            return None
        self.taken.append(best[2])
        return best[0], best[1]

    def _is_free(self, box: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = box
        if left < 2 or top < 2 or right > self.width - 2 or bottom > self.height - 2:
            return False
        return not any(
            one[0] < right and left < one[2] and one[1] < bottom and top < one[3] for one in self.taken
        )

    def _road_in(self, box: tuple[float, float, float, float]) -> int:
        columns = range(math.floor((box[0] - 3) / _CELL), math.floor((box[2] + 3) / _CELL) + 1)
        rows = range(math.floor((box[1] - 3) / _CELL), math.floor((box[3] + 3) / _CELL) + 1)
        return sum((column, row) in self.road for column in columns for row in rows)


def room_beside(ends: FloatArray, width: float, height: float) -> Room:
    """Return the room of a picture with a road of lines (k, 2, 2)."""
    if not len(ends):
        return Room(width=width, height=height, road=set())
    steps = np.maximum(1, np.ceil(np.hypot(*(ends[:, 1] - ends[:, 0]).T) / _CELL)).astype(int)
    line = np.repeat(np.arange(len(ends)), steps)
    share = (np.arange(len(line)) - np.repeat(np.cumsum(steps) - steps, steps)) / steps[line]
    points = ends[line, 0] + share[:, None] * (ends[line, 1] - ends[line, 0])
    cells = np.unique(np.floor(points / _CELL).astype(int), axis=0)
    return Room(width=width, height=height, road={(int(x), int(y)) for x, y in cells})


def rings(radii: Sequence[float], count: int = 12) -> list[Place]:
    """Return places on circles, the nearest circle first."""
    turns = [2 * math.pi * number / count for number in range(count)]
    return [(radius * math.cos(turn), radius * math.sin(turn)) for radius in radii for turn in turns]


def beside(width: float, gaps: Sequence[float]) -> list[Place]:
    """Return places right, left, above and beneath, and further off in the same order."""
    return [
        place
        for gap in gaps
        for place in (
            *((side * (width / 2 + gap), 0.0) for side in (1, -1)),
            *((0.0, side * (gap + 5)) for side in (-1, 1)),
            *((x * (width / 2 + 0.7 * gap), y * 0.8 * gap) for x in (1, -1) for y in (-1, 1)),
        )
    ]
