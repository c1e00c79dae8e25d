"""Put drives and stops in order of time, and number the legs."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from routesolar.errors import UsageError
from routesolar.timetable.line import Line
from routesolar.timetable.marks import Pass, leg_name
from routesolar.timetable.stops import Arrivals, PlacedStop, names_its_day, night_s, wait_until_s
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import to_local
from routesolar.trip.segments import Leg

STAY = 'say how long the stay is, with --until "2026-11-23 10:00" or --stop end:3h'


class Part(NamedTuple):
    """A drive from one knot to another, or a stop at a knot (`stop` is given and `first` is `last`)."""

    first: int
    last: int
    leg: int
    seconds: FloatArray  # one for each departure
    stop: PlacedStop | None


class Itinerary(NamedTuple):
    """The parts in order of time, the legs they make up, what was assumed, and warnings."""

    parts: list[Part]
    legs: tuple[Leg, ...]
    notes: list[str]
    warnings: list[str]


def itinerary(
    line: Line,
    *,
    stops: Sequence[PlacedStop],
    bounds: Mapping[float, str],
    edges_m: Sequence[float],
    departure_utc_s: FloatArray,
    time_zone: str,
) -> Itinerary:
    """Return the trip in order; the line must have knots at stops, at leg bounds and at the other edges.

    Legs end at `bounds` (distances along the line, with names) and at stops. At `edges_m` and at gaps only a
    new part of the same leg begins.

    Raises:
        UsageError: the line is a place, and no stop there lasts.
    """
    builder = _Builder(line, departure_utc_s, time_zone)
    names: dict[int, str] = {}
    for along_m, name in bounds.items():
        names[line.knot(along_m)] = names.get(line.knot(along_m)) or name
    waiting: dict[int, list[PlacedStop]] = {}
    for stop in stops:
        knot = line.knot(stop.along_m, stop.run)
        waiting.setdefault(knot, []).append(stop)
        names.setdefault(knot, bounds[stop.along_m])
    gaps = np.flatnonzero(~line.driven)
    knots = {0, len(line.run) - 1, *gaps.tolist(), *(gaps + 1).tolist(), *names}
    order = sorted(knots | {line.knot(along_m) for along_m in edges_m})
    for knot, following in zip(order, [*order[1:], None], strict=True):
        if knot in names:
            builder.mark(knot, names[knot])
        for stop in waiting.get(knot, []):
            builder.add_stop(knot, stop)
        if following is not None and line.run[knot] == line.run[following]:
            builder.add_drive(knot, following)
    if not builder.parts:
        raise UsageError("; ".join([*builder.warnings, f"nothing is driven, and nobody stays: {STAY}"]))
    return Itinerary(builder.parts, tuple(builder.legs), builder.notes, builder.warnings)


class _Builder:
    """Keeps the clock of every departure, and the open leg, while parts are added."""

    def __init__(self, line: Line, departure_utc_s: FloatArray, time_zone: str) -> None:
        self.parts: list[Part] = []
        self.legs: list[Leg] = []
        self.notes: list[str] = []
        self.warnings: list[str] = []
        self._line, self._time_zone = line, time_zone
        self._departure_s, self._clock_s = departure_utc_s, departure_utc_s.copy()
        self._here = Pass(0.0, "")
        self._driving = False

    def mark(self, knot: int, name: str) -> None:
        """End the leg being driven here; the next one begins here."""
        here = Pass(float(self._line.along_m[knot]), name)
        if self._driving:
            self.legs.append(Leg(name=leg_name(self._here, here), kind="drive"))
        self._here, self._driving = here, False

    def add_drive(self, first: int, last: int) -> None:
        """Drive from knot to knot; nothing where that takes neither way nor time."""
        seconds = self._line.drive_s[last] - self._line.drive_s[first]
        if seconds > 0 or self._line.along_m[last] > self._line.along_m[first]:
            self._driving = True
            self._add(Part(first, last, len(self.legs), np.full(len(self._clock_s), seconds), None))

    def add_stop(self, knot: int, stop: PlacedStop) -> None:
        """Stop at a knot that was marked, unless every departure comes too late for it."""
        if stop.night_until_s is not None:
            self._stay(knot, stop, night_s(self._clock_s, stop.night_until_s, self._time_zone))
            return
        if stop.until is not None:
            line = self._line
            place = line.latitude_deg[knot], line.longitude_deg[knot], line.elevation_m[knot]
            arrivals = Arrivals(self._clock_s, self._departure_s, *map(float, place))
            seconds = wait_until_s(arrivals, stop.until, self._time_zone)
        else:
            seconds = np.full(len(self._clock_s), stop.duration_s)
        if stop.chosen is not None:
            self._stay(knot, stop, np.where(stop.chosen, seconds, 0.0))
            return
        late = int(np.count_nonzero(seconds == 0))
        if late:
            which = "" if len(seconds) == 1 else f" for {late} of {len(seconds)} departures"
            advice = (
                ""
                if names_its_day(stop.until or "")
                else "; to stay overnight, give until its day: 2026-11-21 08:00"
            )
            self.warnings.append(
                f"{stop.name}: {stop.until} has passed on arrival{which}; the stop is skipped{advice}"
            )
        if late < len(seconds):
            self._note_night(stop, seconds)
            self._stay(knot, stop, seconds)

    def _stay(self, knot: int, stop: PlacedStop, seconds: FloatArray) -> None:
        self._add(Part(knot, knot, len(self.legs), seconds, stop))
        self.legs.append(Leg(name=stop.name, kind="stop", clearing=stop.clearing))

    def _note_night(self, stop: PlacedStop, seconds: FloatArray) -> None:
        """Say which day was meant by a clock time that comes after midnight."""
        if stop.until is None or len(seconds) > 1 or names_its_day(stop.until):
            return
        arrival, end = (
            to_local(float(at), self._time_zone) for at in (self._clock_s[0], self._clock_s[0] + seconds[0])
        )
        if end.date() > arrival.date():
            self.notes.append(
                f"{stop.name}: until {stop.until} is that of {end:%a} {end.day} {end:%b}, the day after arrival"
            )

    def _add(self, part: Part) -> None:
        self.parts.append(part)
        self._clock_s = self._clock_s + part.seconds
