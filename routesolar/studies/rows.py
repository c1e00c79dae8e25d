"""The rows of a study: its columns, and the rows of one drive with the keys of its own result.json."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, NamedTuple

from routesolar.files.results import (
    BATTERY,
    BATTERY_MOMENTS,
    DAY_BATTERY,
    DAY_MOMENTS,
    DAY_SUN,
    SUMS,
    TOTALS,
    result,
)
from routesolar.trip.harvest import Harvest
from routesolar.trips.reporting import harvest_report

Row = dict[str, Any]
Columns = Mapping[str, Any]

LOSSES = (
    "clouds terrain buildings canopy reflection weak_light temperature age soiling partial_shade mismatch "
    "wiring controller clipped battery_cold battery_full"
).split()


# What a column holds; files.parquet knows the types of these.
TEXT, TEXTS, NUMBER, COUNT, DAY, MOMENT = "text", "texts", "number", "count", "day", "moment"


def _numbers(names: list[str]) -> dict[str, str]:
    return dict.fromkeys(names, NUMBER)


WHICH: Columns = {
    "route": TEXT,
    "rig": TEXT,
    "sky": TEXT,
    "season": TEXT,
    "depart_date": DAY,
    "depart_clock": TEXT,
}
TABLES: Mapping[str, Columns] = {
    "drives": {
        **WHICH,
        "departure": MOMENT,
        "arrival": MOMENT,
        "time_zone": TEXT,
        **_numbers(TOTALS),
        **_numbers(["driving_wh", "stopped_wh", "rated_clear_wh"]),
        "losses": _numbers(LOSSES),
        "battery_wh": NUMBER,
        "battery": {**dict.fromkeys(BATTERY_MOMENTS, MOMENT), **_numbers(BATTERY)},
        "warnings": TEXTS,
        "error": TEXT,
    },
    "legs": {
        **WHICH,
        "departure": MOMENT,
        "leg": COUNT,
        "name": TEXT,
        "kind": TEXT,
        "start": MOMENT,
        "end": MOMENT,
        **_numbers(SUMS),
    },
    "days": {
        **WHICH,
        "departure": MOMENT,
        "date": DAY,
        "weekday": TEXT,
        **dict.fromkeys(DAY_MOMENTS, MOMENT),
        **_numbers([*DAY_SUN, *DAY_BATTERY]),
    },
}


class DriveRows(NamedTuple):
    """The rows of one drive in each of the tables."""

    drives: list[Row]
    legs: list[Row]
    days: list[Row]


def rows_of(which: Row, harvest: Harvest) -> DriveRows:
    """Return the rows of a drive that was computed; `which` has the columns that tell it from others."""
    found = result(harvest_report(harvest))
    when = {"departure": found["departure"]}
    drive = {
        **when,
        "arrival": found["arrival"],
        "time_zone": found["time_zone"],
        **found["totals"],
        "battery": {key: value for key, value in found.get("battery", {}).items() if key != "loads"} or None,
        "warnings": found["warnings"],
    }
    return DriveRows(
        [_row(TABLES["drives"], which | drive)],
        [_row(TABLES["legs"], which | when | leg) for leg in found["legs"]],
        [_row(TABLES["days"], which | when | day) for day in found["days"]],
    )


def failed_row(which: Row, why: str) -> DriveRows:
    """Return the rows of a drive that could not be computed: one, with its error."""
    return DriveRows([_row(TABLES["drives"], which | {"error": why})], [], [])


def _row(columns: Columns, values: Row) -> Row:
    """Return values in their columns, times and days as such; every value must have a column."""
    unknown = values.keys() - columns.keys()
    if unknown:
        raise KeyError(f"no column for {', '.join(sorted(unknown))}")
    return {name: _value(kind, values.get(name)) for name, kind in columns.items()}


def _value(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, Mapping):
        return _row(kind, value)
    if kind == MOMENT:
        return datetime.fromisoformat(value)
    if kind == DAY and isinstance(value, str):
        return date.fromisoformat(value)
    return value
