"""Long readings tell what they are at, to whom listens."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_LISTENER: ContextVar[Callable[[str], None] | None] = ContextVar("listener", default=None)


@contextmanager
def heard_by(listener: Callable[[str], None]) -> Iterator[None]:
    """Let a function hear what is being read, within the block."""
    token = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(token)


def doing(what: str) -> None:
    """Tell what is being read now."""
    listener = _LISTENER.get()
    if listener is not None:
        listener(what)
