"""Parts computed on this computer: in this process, or in several."""

from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from datetime import date
from multiprocessing import get_context
from typing import NamedTuple

from routesolar.studies.computing import TRIES, computed_part, failed_part
from routesolar.studies.study import RouteDrives

WAITING_EACH = 2  # parts handed to each process at once: the next is there when one is done

Tables = dict[str, bytes]


class Task(NamedTuple):
    """A part to be computed: a route's drives on a date."""

    drives: RouteDrives
    day: date


class Done(NamedTuple):
    """A task and its tables."""

    task: Task
    tables: Tables


def computed_here(tasks: Sequence[Task]) -> Iterator[Done]:
    """Return tasks as they are computed, one after another."""
    for task in tasks:
        yield Done(task, computed_part(task.drives, task.day))


def computed_in_processes(tasks: Sequence[Task], processes: int) -> Iterator[Done]:
    """Return tasks as they are computed by processes of their own, in the order in which they are done.

    A process that ends takes only its parts with it: they are tried again, and in the end rows with errors.
    """
    waiting = [(task, 0) for task in reversed(tasks)]
    while waiting:
        with ExitStack() as ends:
            pool = ProcessPoolExecutor(processes, mp_context=get_context("spawn"))
            ends.callback(pool.shutdown, wait=True, cancel_futures=True)
            yield from _until_broken(pool, waiting, processes)


def _until_broken(pool: ProcessPoolExecutor, waiting: list[tuple[Task, int]], processes: int) -> Iterator[Done]:
    """Return what is done until all is or the pool is broken; what was not done waits again."""
    running: dict[Future[Tables], tuple[Task, int]] = {}
    broken = False
    while running or (waiting and not broken):
        while waiting and not broken and _may_start(waiting[-1], running, processes):
            task, tries = waiting.pop()
            try:
                running[pool.submit(computed_part, task.drives, task.day)] = (task, tries)
            except BrokenProcessPool:
                broken = True
                waiting.append((task, tries))
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            task, tries = running.pop(future)
            try:
                yield Done(task, future.result())
            except BrokenProcessPool:
                broken = True
                if tries + 1 < TRIES:
                    waiting.append((task, tries + 1))
                else:
                    why = (
                        "the process that computed it ended, three times; it may need more memory than there is"
                    )
                    yield Done(task, failed_part(task.drives, task.day, why))


def _may_start(one: tuple[Task, int], running: dict[Future[Tables], tuple[Task, int]], processes: int) -> bool:
    """Return whether a part may be handed out; one whose process ended runs alone, to see if it is to blame."""
    if one[1] or any(tries for _, tries in running.values()):
        return not running
    return len(running) < WAITING_EACH * processes
