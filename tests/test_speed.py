"""The chain stays many times faster than the same chain of pvlib's functions, in the same run on one thread."""

import pytest

from benchmarks.chain import hilly_drive, ours_wh, theirs_wh
from benchmarks.chain_speed import in_turns, on_threads

TIMES = 10.0  # about half of what an idle machine shows


@pytest.mark.compiled
def test_the_chain_is_many_times_faster_than_the_same_chain_of_pvlib() -> None:
    drive = hilly_drive(500, 48)
    jobs = {"ours": on_threads(1, lambda: ours_wh(drive)), "theirs": lambda: theirs_wh(drive)}
    times = in_turns(jobs, 3)
    assert times["theirs"][0] > TIMES * times["ours"][0]
