"""Arrays of the whole library: room for big results, and views that are not written to."""

import numpy as np
import pytest

from routesolar.arrays import read_only, room


@pytest.mark.parametrize("shape", [(3,), (0, 4), (2, 5, 7), (4, 96, 2000), (1000, 1001)])
def test_room_is_an_array_of_its_own(shape: tuple[int, ...]) -> None:
    first, second = room(*shape), room(*shape)
    assert first.shape == shape and first.dtype == np.float64
    assert first.flags.c_contiguous and first.flags.writeable
    assert not np.shares_memory(first, second)
    first[:] = 1.0
    second[:] = 2.0
    assert (first == 1.0).all()


def test_big_room_begins_on_a_large_page() -> None:
    # Pages of 2 MB, the large ones of x86-64 and of arm64 with small pages of 4 kB (Linux, mm/transhuge).
    assert room(4, 96, 2000).ctypes.data % 2**21 == 0


def test_what_is_read_only_shows_the_array_and_leaves_it_open() -> None:
    values = np.arange(6.0).reshape(2, 3)
    seen = read_only(values)
    assert np.shares_memory(seen, values) and values.flags.writeable
    with pytest.raises(ValueError, match="read-only"):
        seen[0, 0] = 1.0
