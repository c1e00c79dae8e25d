"""Parts computed by the workers of a cluster that is there already."""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import Any

from routesolar.errors import UsageError
from routesolar.studies.computing import TRIES, computed_part, failed_part
from routesolar.studies.local import Done, Task
from routesolar.trip.names import printable
from routesolar.version import SOFTWARE

WAITING_EACH = 2  # parts handed to each thread of a worker at once
FOUND_WITHIN_S = 20.0


def computed_on_cluster(tasks: Sequence[Task], address: str) -> Iterator[Done]:
    """Return tasks as the workers of the scheduler at an address compute them, in the order they are done.

    A part whose worker is lost is computed by another. Workers read rasters and maps by the same paths as here.

    Raises:
        UsageError: the library is not installed, nobody answers there, or workers have another version of this.
    """
    distributed = _library()
    try:
        client = distributed.Client(address, timeout=FOUND_WITHIN_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise UsageError(
            f"no cluster answers at {printable(address)} ({printable(str(error))}); give the address that its "
            "scheduler prints, such as tcp://10.0.0.5:8786"
        ) from None
    try:
        _check_workers(client)
        yield from _computed(distributed, client, tasks)
    finally:
        with suppress(Exception):
            client.close()


def _computed(distributed: Any, client: Any, tasks: Sequence[Task]) -> Iterator[Done]:
    waiting = list(reversed(tasks))
    running: dict[Any, Task] = {}
    done = distributed.as_completed(loop=client.loop)
    threads = max(sum(client.nthreads().values()), 1)
    while running or waiting:
        while waiting and len(running) < WAITING_EACH * threads:
            task = waiting.pop()
            future = client.submit(computed_part, task.drives, task.day, pure=False, retries=TRIES - 1)
            running[future] = task
            done.add(future)
        future = next(done)
        task = running.pop(future)
        error = future.exception()
        if error is None:
            yield Done(task, future.result())
        else:
            why = f"no worker brought it to its end: {printable(' '.join(str(error).split()))}"
            yield Done(task, failed_part(task.drives, task.day, why))
        future.release()


def _check_workers(client: Any) -> None:
    """Raise UsageError where there is no worker, or one computes with another version."""
    others = {each for each in client.run(_software).values() if each != SOFTWARE}
    if others:
        raise UsageError(f"workers of the cluster have {others.pop()}; install {SOFTWARE} there as here")
    if not client.nthreads():
        raise UsageError("the cluster has no worker yet; start some, then run again")


def _software() -> str:
    return SOFTWARE


def _library() -> Any:
    try:
        import distributed
    except ImportError:
        raise UsageError(
            "a cluster is reached with distributed, which is not installed; in your copy of routesolar install "
            'it with: pip install ".[cluster]"'
        ) from None
    return distributed
