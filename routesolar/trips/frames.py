"""Answers as pandas tables, with the columns of their CSV; times bear their zone."""

from collections.abc import Mapping, Sequence
from typing import Any

from routesolar.decisions.breaks import Breaks
from routesolar.decisions.calendar import YearCalendar
from routesolar.decisions.departures import Departures
from routesolar.files.results import day_rows, leg_rows
from routesolar.files.segment_rows import segment_columns
from routesolar.trip.harvest import Harvest
from routesolar.trips.presenting import Decision, decision_report
from routesolar.trips.reporting import harvest_report, units_named

_TIMES = ("start", "end", "depart", "arrive", "first_shade", "last_shade", "dawn", "dusk", "lowest")


def frame_of(result: Harvest | Decision) -> Any:
    """Return an answer's rows: a harvest's segments, the rows of a decision."""
    if not isinstance(result, Harvest):
        return _table(decision_report(result, units_named("metric")).rows, _zone_of(result))
    import pandas as pd

    columns: dict[str, Any] = {**segment_columns(result)}
    start = pd.to_datetime(columns.pop("start_utc"), utc=True).tz_convert(result.segments.time_zone)
    frame = pd.DataFrame(columns)
    frame.insert(3, "start", start)
    return frame


def legs_frame(harvest: Harvest) -> Any:
    """Return a harvest's legs, with the columns of legs.csv."""
    return _table(leg_rows(harvest_report(harvest)), harvest.segments.time_zone)


def days_frame(harvest: Harvest) -> Any:
    """Return a harvest's local calendar days, with the columns of days.csv."""
    return _table(day_rows(harvest), harvest.segments.time_zone)


def _zone_of(result: Decision) -> str:
    if isinstance(result, Breaks | Departures | YearCalendar):
        return result.time_zone
    stay = getattr(result, "stay", None)
    if stay is not None:
        return str(stay.time_zone)
    routes = getattr(result, "routes", ())
    return str(routes[0].time_zone) if routes else "UTC"


def _table(rows: Sequence[Mapping[str, Any]], time_zone: str) -> Any:
    import pandas as pd

    frame = pd.DataFrame([dict(row) for row in rows])
    for name in set(_TIMES) & set(frame.columns):
        frame[name] = pd.to_datetime(frame[name], utc=True, format="ISO8601").dt.tz_convert(time_zone)
    return frame
