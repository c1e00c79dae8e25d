"""Segments in blocks of rows, over which a loop computes several numbers at once.

The compiler does so only where it sees that what a loop writes is not what it goes on to read. Rows of an
array whose size it knows lie apart; two arrays might not. So a block of segments is brought into rows, worked
on there, and taken out again. A row is handed on as itself, not as its number: a function is compiled anew for
each number that stands in the source.
"""

from routesolar.arrays import FloatArray, Tiles
from routesolar.physics.compiled import compiled, inlined

BLOCK = 128  # segments: some thirty rows of them fit into a processor's nearest memory


@compiled
def bring(row: FloatArray, values: FloatArray, first: int, end: int) -> None:
    """Bring `values[first:end]` into a row; one value alone is the same everywhere."""
    if len(values) == 1:
        fill(row, values[0], end - first)
    else:
        part = values[first:end]
        for j in range(len(part)):
            row[j] = part[j]


@compiled
def fill(row: FloatArray, value: float, count: int) -> None:
    """Set the first `count` numbers of a row."""
    for j in range(count):
        row[j] = value


@compiled
def take_out(row: FloatArray, values: FloatArray, first: int, end: int) -> None:
    """Put a row into `values[first:end]`."""
    part = values[first:end]
    for j in range(len(part)):
        part[j] = row[j]


@inlined
def at(size: int, index: int) -> int:
    """Return `index`, or 0 along an axis that is the same for all."""
    return index if size > 1 else 0


@inlined
def bring_of(row: FloatArray, field: FloatArray, s: int, i: int, first: int, end: int) -> None:
    """Bring a part of `field[s, i]` into a row, from axes of length 1 where these are the same for all."""
    bring(row, field[at(field.shape[0], s), at(field.shape[1], i)], first, end)


@compiled
def any_above_zero(row: FloatArray | Tiles, count: int) -> bool:
    """Tell whether any of the first `count` numbers of a row is above zero, or not known."""
    found = False
    for j in range(count):
        found = found or not row[j] <= 0.0
    return found
