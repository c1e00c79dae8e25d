"""Long computations ask now and then whether they are still wanted, and tell which share of them is done."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

Item = TypeVar("Item")

_CHECK: ContextVar[Callable[[float], None] | None] = ContextVar("check", default=None)
_PART: ContextVar[tuple[float, float]] = ContextVar("part", default=(0.0, 1.0))  # of the whole, now in hand


@contextmanager
def while_wanted(check: Callable[[float], None]) -> Iterator[None]:
    """Let a function end what is computed within the block: it is called often, and raises to do so.

    It is told the share that is done, as far as that is known: 0 to 1, by how long parts usually take.
    """
    token = _CHECK.set(check)
    try:
        with _in_hand(0.0, 1.0):
            yield
    finally:
        _CHECK.reset(token)


def still_wanted() -> None:
    """Raise what the block's function raises, where what is computed is no longer wanted."""
    check = _CHECK.get()
    if check is not None:
        check(_PART.get()[0])


@contextmanager
def share_of_work(first: float, after: float) -> Iterator[None]:
    """Say that what is computed within the block is this part of the work in hand, from a share to a share."""
    start, end = _PART.get()
    with _in_hand(start + first * (end - start), start + after * (end - start)):
        still_wanted()
        yield


def in_steps(items: Sequence[Item], first: float = 0.0) -> Iterator[Item]:
    """Yield what is worked through, each an equal part of the work in hand, from a share of it on."""
    start, end = _PART.get()
    begin, step = start + first * (end - start), (1 - first) * (end - start) / max(len(items), 1)
    for number, item in enumerate(items):
        _PART.set((begin + number * step, begin + (number + 1) * step))
        still_wanted()
        yield item
    _PART.set((start, end))


@contextmanager
def _in_hand(start: float, end: float) -> Iterator[None]:
    token = _PART.set((start, end))
    try:
        yield
    finally:
        _PART.reset(token)
