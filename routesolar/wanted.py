"""Long computations ask now and then whether they are still wanted."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_CHECK: ContextVar[Callable[[], None] | None] = ContextVar("check", default=None)


@contextmanager
def while_wanted(check: Callable[[], None]) -> Iterator[None]:
    """Let a function end what is computed within the block: it is called often, and raises to do so."""
    token = _CHECK.set(check)
    try:
        yield
    finally:
        _CHECK.reset(token)


def still_wanted() -> None:
    """Raise what the block's function raises, where what is computed is no longer wanted."""
    check = _CHECK.get()
    if check is not None:
        check()
