"""What nouns that hold arrays have in common: equal by value, short to look at, checked when unpickled."""

from collections.abc import Collection
from dataclasses import fields, is_dataclass
from importlib import import_module
from typing import Any

import numpy as np

LONGEST = 300  # letters of a short text


class Noun:
    """A frozen dataclass with arrays; dataclasses that build on it leave `eq` and `repr` to it."""

    __slots__ = ()

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        return self is other or all(_equal(mine, getattr(other, name)) for name, mine in _compared(self))

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        values = [(field.name, getattr(self, field.name)) for field in _fields(self) if field.repr]
        shape = next((value.shape for _, value in values if isinstance(value, np.ndarray)), None)
        said = [f"arrays {shape}"] if shape is not None else []
        said += [f"{name}={_short(value)}" for name, value in values if not isinstance(value, np.ndarray)]
        return _cut(f"{type(self).__name__}({', '.join(said)})")

    def __reduce__(self) -> tuple[Any, ...]:
        values = {field.name: getattr(self, field.name) for field in _fields(self) if field.init}
        return _rebuilt, (type(self), values)


class Result(Noun):
    """An answer that shows, tabulates and saves itself.

    What does so lives on the floors above and is loaded when it is first asked for.
    """

    __slots__ = ()

    def to_frame(self) -> Any:
        """Return the rows of the answer's CSV as a pandas table; times bear their zone."""
        return import_module("routesolar.trips.frames").frame_of(self)

    def save(
        self, folder: Any, *, units: str = "metric", also: Collection[str] = (), force: bool = False
    ) -> None:
        """Write page, picture, tables and JSON into a folder, all or none; `also` may add "kml", "gpx", "card".

        Raises:
            OutputError: the folder may not be replaced, or the disk refuses.
            UsageError: the units or a format are not known, or what the page needs was not kept.
        """
        import_module("routesolar.trips.saving").save(self, folder, units=units, also=also, force=force)

    def _repr_html_(self) -> str:
        html: str = import_module("routesolar.report.notebook").notebook_html(self)
        return html


def _fields(noun: Any) -> tuple[Any, ...]:
    return fields(noun)


def _compared(noun: Any) -> list[tuple[str, Any]]:
    return [(field.name, getattr(noun, field.name)) for field in fields(noun) if field.compare]


def _rebuilt(kind: type, values: dict[str, Any]) -> Any:
    return kind(**values)


def _equal(one: Any, other: Any) -> bool:
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        if np.shape(one) != np.shape(other):
            return False
        numbers = np.issubdtype(np.asarray(one).dtype, np.floating)
        return bool(np.array_equal(one, other, equal_nan=numbers))
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(_equal, one, other))
    if is_dataclass(one) and type(one) is type(other):
        return all(_equal(mine, getattr(other, name)) for name, mine in _compared(one))
    return bool(one == other) or (one != one and other != other)  # nan says the same as nan


def _short(value: Any) -> str:
    """Return a value in few letters."""
    if isinstance(value, tuple) and len(value) > 2:
        return f"{len(value)} x {type(value[0]).__name__}"
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, tuple):
        return f"({', '.join(map(_short, value))})"
    if isinstance(value, str):
        return repr(value if len(value) <= 60 else f"{value[:59]}…")
    return f"{type(value).__name__}(…)" if is_dataclass(value) or isinstance(value, dict) else _cut(repr(value))


def _cut(text: str) -> str:
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 2]}…)"
