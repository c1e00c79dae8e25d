"""What draws power, and when by the clock."""

import re
from dataclasses import dataclass, field
from itertools import pairwise

from routesolar.errors import UsageError
from routesolar.trip.ranges import check_ranges

DAY_S = 86_400.0
MOTION_WORDS = ("always", "driving", "stopped")
_WINDOW = re.compile(r"(\d{1,2}):(\d\d)\s*-\s*(\d{1,2}):(\d\d)")

Windows = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A consumer at the battery's terminals.

    `when` is always, driving, stopped, or local clock times: "18:00-18:40", several with commas. A time
    over midnight is fine. `windows_s` are the clock times in seconds of the day, in order and apart.
    Where there is not enough, loads with `keep` 1 are served before those with 2, and so on. Below
    `reserve_soc_frac` of charge the load is off; None is the battery's own reserve.
    """

    name: str = "load"
    power_w: float
    when: str = "always"
    keep: int = 1
    reserve_soc_frac: float | None = None
    windows_s: Windows = field(init=False, repr=False)

    def __post_init__(self) -> None:
        check_ranges(self, ("power_w", "keep", "reserve_soc_frac"))
        object.__setattr__(self, "windows_s", clock_windows_s(self.when))

    def reserve_over(self, reserve_soc_frac: float) -> float:
        """Return the charge below which the load is off, with a battery's own reserve."""
        return reserve_soc_frac if self.reserve_soc_frac is None else self.reserve_soc_frac


def kept_first(loads: tuple[Load, ...]) -> tuple[Load, ...]:
    """Return loads in the order in which they are kept on; alike ones as they were."""
    return tuple(sorted(loads, key=lambda load: load.keep))


def wrong_reserves(loads: tuple[Load, ...], reserve_soc_frac: float) -> str:
    """Return what is wrong with the loads' own reserves over a battery's; empty if nothing is."""
    ordered = kept_first(loads)
    own = [load.reserve_over(reserve_soc_frac) for load in ordered]
    for load, at in zip(ordered, own, strict=True):
        if at < reserve_soc_frac:
            return (
                f'reserve_soc_frac of load "{load.name}" is {at:g}, below the battery\'s {reserve_soc_frac:g}; '
                "no load is served below that"
            )
    for (first, kept), (then, dropped) in pairwise(zip(ordered, own, strict=True)):
        if dropped < kept:
            return (
                f'load "{first.name}" (keep {first.keep}) is off below {kept:g}, but "{then.name}" '
                f"(keep {then.keep}) only below {dropped:g}; what is kept longer needs the lower reserve"
            )
    return ""


def clock_windows_s(when: str) -> Windows:
    """Return the clock times of `when` in seconds of the day; none for always, driving, stopped.

    Raises:
        UsageError: `when` is neither such a word nor clock times, or its times overlap.
    """
    if when in MOTION_WORDS:
        return ()
    pieces: list[tuple[float, float]] = []
    for text in when.split(","):
        start_s, end_s = _window_s(text.strip())
        pieces += [(start_s, end_s)] if start_s < end_s else [(start_s, DAY_S), (0.0, end_s)]
    pieces = sorted(piece for piece in pieces if piece[0] < piece[1])
    if any(later[0] < earlier[1] for earlier, later in pairwise(pieces)):
        raise UsageError("these clock times overlap; join them into one, or the load would count twice")
    return tuple(pieces)


def _window_s(text: str) -> tuple[float, float]:
    match = _WINDOW.fullmatch(text)
    if match is None:
        raise UsageError('write always, driving, stopped, or clock times such as "18:00-18:40"')
    hours, minutes = [int(match[1]), int(match[3])], [int(match[2]), int(match[4])]
    start_s, end_s = (hour * 3600.0 + minute * 60.0 for hour, minute in zip(hours, minutes, strict=True))
    if max(minutes) > 59 or start_s >= DAY_S or end_s > DAY_S:
        raise UsageError(
            f"{text} is not a time of the day; hours go to 23 (an end may be 24:00), minutes to 59"
        )
    if start_s == end_s:
        raise UsageError(f"{text} has no time in it; for the whole day write always")
    return start_s, end_s
