"""Lock arrays once, so that a noun never changes after it was built."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def locked(values: ArrayLike, shape: tuple[int, ...], name: str, dtype: Any = np.float64) -> NDArray[Any]:
    """Return a read-only copy of `values` broadcast to `shape`; ValueError naming `name` if it does not fit."""
    array = np.asarray(values, dtype=dtype)
    try:
        array = np.broadcast_to(array, shape).copy()
    except ValueError:
        raise ValueError(f"{name} has shape {array.shape}, which does not fit {shape}") from None
    array.setflags(write=False)
    return array


def lock_fields(noun: object, shapes: dict[str, tuple[int, ...]], dtypes: dict[str, Any] | None = None) -> None:
    """Replace the named fields of a frozen dataclass by locked copies of the stated shapes."""
    for name, shape in shapes.items():
        dtype = (dtypes or {}).get(name, np.float64)
        object.__setattr__(noun, name, locked(getattr(noun, name), shape, name, dtype))
