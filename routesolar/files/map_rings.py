"""Closed rings from the lines that make up an area's outline, in any order and direction."""

from collections.abc import Sequence

import numpy as np

from routesolar.trip.arrays import IntArray


def joined_rings(lines: Sequence[IntArray]) -> tuple[list[IntArray], int]:
    """Return the rings that lines of points make, not closed explicitly; and how many lines are left over."""
    rings = [line[:-1] for line in lines if len(line) > 3 and line[0] == line[-1]]
    open_lines = [line for line in lines if len(line) > 1 and line[0] != line[-1]]
    ends: dict[int, set[int]] = {}
    for number, line in enumerate(open_lines):
        for end in (int(line[0]), int(line[-1])):
            ends.setdefault(end, set()).add(number)
    unused = set(range(len(open_lines)))
    loose = 0
    while unused:
        number = min(unused)
        used, chain = {number}, [open_lines[number]]
        unused.discard(number)
        start, end = int(open_lines[number][0]), int(open_lines[number][-1])
        while end != start and (following := ends[end] & unused):
            number = min(following)
            unused.discard(number)
            used.add(number)
            line = open_lines[number]
            chain.append(line if int(line[0]) == end else line[::-1])
            end = int(chain[-1][-1])
        if end == start:
            rings.append(np.concatenate([line[:-1] for line in chain]))
        else:
            loose += len(used)
    return [ring for ring in rings if len(ring) >= 3], loose
