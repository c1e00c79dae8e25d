"""Work shared among threads: all of it is done, once, and where one thread is asked for by the caller's own."""

import threading

import numba
import pytest

from routesolar.physics import threads


@pytest.mark.parametrize("count", [1, 2, 5])
def test_every_part_is_done_once(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(numba.config, "NUMBA_NUM_THREADS", count)
    done: list[int] = []
    threads.over_parts(done.append, range(7))
    assert sorted(done) == list(range(7))


@pytest.mark.parametrize("count", [1, 3])
def test_all_departures_are_done_once(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(numba.config, "NUMBA_NUM_THREADS", count)
    done: list[int] = []
    threads.over_departures(lambda first, end: done.extend(range(first, end)), 23, threads.LEAST_POINTS)
    assert sorted(done) == list(range(23))


def test_one_thread_is_the_callers_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(numba.config, "NUMBA_NUM_THREADS", 1)
    seen: list[int] = []
    threads.over_parts(lambda _: seen.append(threading.get_ident()), range(3))
    assert set(seen) == {threading.get_ident()}


def test_what_goes_wrong_in_a_thread_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(numba.config, "NUMBA_NUM_THREADS", 2)

    def work(part: int) -> None:
        if part == 2:
            raise ValueError("the third")

    with pytest.raises(ValueError, match="the third"):
        threads.over_parts(work, range(4))
