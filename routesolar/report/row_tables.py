"""A row a load, and a row a day of a trip over midnight, in cells for the terminal and a page."""

from typing import NamedTuple

from routesolar.report.clock_words import LocalClock, clock, clock_of, date_words
from routesolar.report.decision_text import chance
from routesolar.report.units import duration, percent, readable
from routesolar.trip.harvest import DayResult, Harvest, LoadResult
from routesolar.trip.names import printable

_TRIFLE_WH = 0.05
_MOST_LETTERS = 28


class RowTable(NamedTuple):
    """What it is of, a heading a column, its rows, and what has to be known to read them."""

    title: str
    header: tuple[str, ...]
    cells: tuple[tuple[str, ...], ...]
    note: str


def tables_of(harvest: Harvest) -> tuple[RowTable, ...]:
    """Return the tables of a drive's loads and of its days, as far as there is something to tell apart."""
    return tuple(table for table in (_loads(harvest), _days(harvest)) if table is not None)


def _loads(harvest: Harvest) -> RowTable | None:
    charge = harvest.charge
    if charge is None or len(charge.loads) < 2 or charge.short_prob < 0.005:
        return None
    local = clock_of(harvest)
    case = local.case
    return RowTable(
        title="Loads",
        header=(
            "load",
            "stays on to the end",
            f"off by, on half of the {case}s",
            f"off by, on 1 {case} in 10",
            "off for, on average",
            f"worst {case} in 10",
            "missed Wh",
            "asked Wh",
            "off below",
        ),
        cells=tuple(_load(load, local) for load in charge.loads),
        note=f"What is kept on longest stands first. Chances are counted in {case}s.",
    )


def _load(load: LoadResult, local: LocalClock) -> tuple[str, ...]:
    name = printable(load.name) or "load"
    half, tenth = (
        "never" if utc_s is None else local.at(utc_s)
        for utc_s in (load.first_off_utc_s, load.first_off_poor_utc_s)
    )
    return (
        name if len(name) <= _MOST_LETTERS else f"{name[:_MOST_LETTERS]}...",
        chance(load.lasts_prob),
        half,
        tenth,
        _off(load.off_s),
        _off(load.off_poor_s),
        _wh(load.shortfall_wh),
        readable(load.load_wh),
        percent(load.reserve_soc_frac),
    )


def _off(off_s: float) -> str:
    return duration(off_s) if off_s >= 30.0 else "0 min"


def _days(harvest: Harvest) -> RowTable | None:
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
    return RowTable(
        title="Days",
        header=header,
        cells=tuple(_day(row, zone, battery=battery) for row in harvest.days),
        note=(
            f"Days are those of the calendar in {zone}. Their Wh add up to the trip's; what comes at least "
            "holds for each day by itself, and does not. Charge is that of the battery."
        ),
    )


def _day(row: DayResult, zone: str, *, battery: bool) -> tuple[str, ...]:
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
    return "" if value is None else chance(value)


def _wh(value: float | None) -> str:
    return "" if value is None else readable(value if abs(value) >= _TRIFLE_WH else 0.0)


def _charge(value: float | None) -> str:
    return "" if value is None else percent(value)
