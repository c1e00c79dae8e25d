"""Arrays of a noun cannot be changed by anyone; one that is locked already is not copied again."""

import numpy as np
import pytest

from routesolar.errors import UsageError
from routesolar.trip.arrays import locked


def test_what_can_be_written_to_is_copied():
    given = np.array([1.0, 2.0])
    kept = locked(given, (2,), "x")
    given[0] = 9.0
    assert kept.tolist() == [1.0, 2.0]
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 5.0


def test_what_is_locked_is_taken_as_it_is():
    once = locked([1.0, 2.0], (2,), "x")
    assert locked(once, (2,), "x") is once


def test_a_locked_view_of_what_can_be_written_to_is_copied():
    given = np.array([1.0, 2.0])
    view = given[:]
    view.setflags(write=False)
    kept = locked(view, (2,), "x")
    given[0] = 9.0
    assert kept.tolist() == [1.0, 2.0]


def test_other_kinds_of_numbers_are_converted_and_one_stands_for_all():
    once = locked([1, 2], (2,), "x", np.int64)
    assert locked(once, (2,), "x").dtype == np.float64
    assert locked(7.0, (3,), "x").tolist() == [7.0, 7.0, 7.0]
    with pytest.raises(UsageError, match="x has shape"):
        locked(once, (3,), "x")
