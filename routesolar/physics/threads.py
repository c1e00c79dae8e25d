"""Many departures at once on all processors: compiled loops that let go of Python's lock."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numba

LEAST_POINTS = 20_000  # of departures x segments: below, starting threads costs more than it saves
_PARTS_A_THREAD = 4  # departures by night take less long than those by day


def over_departures(work: Callable[[int, int], None], departures: int, segments: int) -> None:
    """Call `work(first, end)` for parts that together are all departures, in as many threads as numba has.

    What is computed of a departure must not depend on the others. NUMBA_NUM_THREADS sets how many threads.
    """
    threads = min(numba.config.NUMBA_NUM_THREADS, departures)
    if threads < 2 or departures * segments < LEAST_POINTS:
        work(0, departures)
        return
    parts = min(departures, threads * _PARTS_A_THREAD)
    edges = [departures * part // parts for part in range(parts + 1)]
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(work, edges[:-1], edges[1:]))
