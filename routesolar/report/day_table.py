"""A row a day of a trip over midnight, in cells for the terminal, a page and a notebook."""

from typing import NamedTuple

from routesolar.report.clock_words import clock, date_words
from routesolar.report.units import percent, readable
from routesolar.trip.harvest import DayResult, Harvest

_TRIFLE_WH = 0.05


class DayTable(NamedTuple):
    """A heading a column, a row a day, and what has to be known to read them."""

    header: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    note: str


def table_of_days(harvest: Harvest) -> DayTable | None:
    """Return the days of a trip; None where it is over before midnight."""
    if len(harvest.days) < 2:
        return None
    battery, zone = harvest.charge is not None, harvest.segments.time_zone
    header: tuple[str, ...] = ("day", "Wh", "9 days in 10 at least", "1 day in 10 at least")
    if battery:
        header += (
            "used",
            "missed",
            "at dawn",
            "at dusk",
            "lowest",
            "nothing off so far",
            "engine",
            "turned away",
        )
    return DayTable(
        header=header,
        cells=tuple(_cells(row, zone, battery=battery) for row in harvest.days),
        note=(
            f"Days are those of the calendar in {zone}. Their Wh add up to the trip's; what comes at least "
            "holds for each day by itself, and does not. Charge is that of the battery."
        ),
    )


def _cells(row: DayResult, zone: str, *, battery: bool) -> tuple[str, ...]:
    sun = (
        date_words(row.start_utc_s, zone),
        *map(readable, (row.energy_wh, row.energy_low_wh, row.energy_high_wh)),
    )
    if not battery:
        return sun
    turned_away_wh = (row.battery_cold_wh or 0.0) + (row.battery_full_wh or 0.0)
    return (
        *sun,
        _wh(row.used_wh),
        _wh(row.shortfall_wh),
        _charge(row.soc_dawn_frac),
        _charge(row.soc_dusk_frac),
        f"{_charge(row.lowest_soc_frac)} {_moment(row, zone)}",
        _chance(row.lasts_prob),
        _wh(row.alternator_wh),
        _wh(turned_away_wh),
    )


def _moment(row: DayResult, zone: str) -> str:
    """Return when the day's charge is lowest; its last midnight is the day's own 24:00."""
    if row.lowest_utc_s is None:
        return ""
    shown = clock(row.lowest_utc_s, zone)
    return "24:00" if shown == "00:00" and row.lowest_utc_s >= row.end_utc_s else shown


def _chance(value: float | None) -> str:
    return "" if value is None else percent(value)


def _wh(value: float | None) -> str:
    return "" if value is None else readable(value if abs(value) >= _TRIFLE_WH else 0.0)


def _charge(value: float | None) -> str:
    return "" if value is None else percent(value)
