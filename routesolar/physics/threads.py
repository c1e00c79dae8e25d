"""Many departures, or many places, at once on all processors: compiled loops that let go of Python's lock."""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import numba

LEAST_POINTS = 20_000  # of departures x segments: below, starting threads costs more than it saves
_PARTS_A_THREAD = 4  # departures by night take less long than those by day
Part = TypeVar("Part")


def over_departures(work: Callable[[int, int], None], departures: int, segments: int) -> None:
    """Call `work(first, end)` for parts that together are all departures, in as many threads as numba has.

    What is computed of a departure must not depend on the others.
    """
    threads = min(numba.config.NUMBA_NUM_THREADS, departures)
    if threads < 2 or departures * segments < LEAST_POINTS:
        work(0, departures)
        return
    parts = min(departures, threads * _PARTS_A_THREAD)
    edges = [departures * part // parts for part in range(parts + 1)]
    over_parts(lambda part: work(edges[part], edges[part + 1]), range(parts))


def over_parts(work: Callable[[Part], None], parts: Sequence[Part]) -> None:
    """Call `work` for each part, in as many threads as numba has: NUMBA_NUM_THREADS sets how many."""
    threads = min(numba.config.NUMBA_NUM_THREADS, len(parts))
    if threads < 2:
        for part in parts:
            work(part)
        return
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(work, parts))
