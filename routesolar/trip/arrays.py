"""Lock arrays once, so that a noun never changes after it was built."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from routesolar.arrays import BoolArray as BoolArray
from routesolar.arrays import FloatArray as FloatArray
from routesolar.arrays import IntArray as IntArray
from routesolar.errors import UsageError


def numbers(values: ArrayLike, name: str, dtype: Any = np.float64) -> NDArray[Any]:
    """Return `values` as an array of numbers.

    Raises:
        UsageError: they are dates, text or masked, or fractions where whole numbers are meant.
    """
    if isinstance(values, np.ma.MaskedArray):
        raise UsageError(f"{name} is a masked array; put NaN where values are unknown: .filled(numpy.nan)")
    array = np.asarray(values)
    if array.dtype.kind in "mM":
        raise UsageError(
            f"{name} holds dates or times ({array.dtype}); give numbers, moments as seconds since 1970 UTC: "
            "times.astype('datetime64[us]').astype(float) / 1e6"
        )
    try:
        if array.dtype.kind not in "biufO":
            raise TypeError
        converted = array.astype(dtype)
    except (TypeError, ValueError):
        raise UsageError(f"{name} holds {array.dtype} and not numbers") from None
    if np.issubdtype(dtype, np.integer) and not np.array_equal(converted, array):
        raise UsageError(f"{name} counts from 0, in whole numbers")
    return converted


def length_of(values: ArrayLike, name: str) -> int:
    """Return how many values there are; UsageError for a single number."""
    shape = np.shape(values)
    if len(shape) != 1 or not shape[0]:
        raise UsageError(f"{name} has shape {shape}; give a list of one or more values")
    return int(shape[0])


def locked(values: ArrayLike, shape: tuple[int, ...], name: str, dtype: Any = np.float64) -> NDArray[Any]:
    """Return `values`, or one value for all, read-only and of that shape: a copy, or what is locked already.

    Raises:
        UsageError: they do not fit; it names `name` and both shapes.
    """
    array = locked_numbers(values, name, dtype)
    if array.shape == shape:
        return array
    if array.size != 1:
        raise UsageError(f"{name} has shape {array.shape}, which does not fit {shape}")
    array = np.full(shape, array.reshape(()))
    array.setflags(write=False)
    return array


def locked_numbers(values: ArrayLike, name: str, dtype: Any = np.float64) -> NDArray[Any]:
    """Return a read-only copy of `values`; an array that is locked already, and nobody's view, as it is.

    Raises:
        UsageError: they are not numbers, as `numbers` says.
    """
    if type(values) is np.ndarray and values.dtype == dtype and _is_locked(values):
        return values
    array = numbers(values, name, dtype)
    array.setflags(write=False)
    return array


def _is_locked(array: NDArray[Any]) -> bool:
    """Tell whether nobody can write into an array: it is read-only, and not a view of another."""
    return array.base is None and array.flags.c_contiguous and not array.flags.writeable


def lock_fields(noun: object, shapes: dict[str, tuple[int, ...]], dtypes: dict[str, Any] | None = None) -> None:
    """Replace the named fields of a frozen dataclass by locked copies of the stated shapes."""
    for name, shape in shapes.items():
        dtype = (dtypes or {}).get(name, np.float64)
        object.__setattr__(noun, name, locked(getattr(noun, name), shape, name, dtype))


def plain(values: ArrayLike) -> FloatArray:
    """Return the values in the one layout that compiled loops know; a copy only where they have another."""
    return np.require(values, np.float64, ["C", "W"])
