"""The terminal's report: the answer in a sentence, a row a leg, what was assumed."""

import io
import textwrap

from rich.box import Box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from routesolar.report import text
from routesolar.report.assumed import assumptions
from routesolar.report.clock_words import clock_of
from routesolar.report.day_words import day_sentences
from routesolar.report.decision_text import table_text
from routesolar.report.row_tables import tables_of
from routesolar.report.sun_times import sun_words
from routesolar.report.units import Units, percent, readable
from routesolar.trip.harvest import LegResult
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

# Only plain characters, so that any terminal and any file takes them.
_RULES = Box("    \n    \n -- \n    \n    \n -- \n    \n    \n", ascii=True)
# Columns in the order they give way on a narrow terminal, with the width below which they do.
_WANTED_WIDTH = {
    "battery": 99,
    "peak W": 90,
    "mean W": 79,
    "min": 71,
    "distance": 63,
    "start": 55,
    "shade loss Wh": 49,
    "least": 38,
}


def harvest_text(report: HarvestReport, units: Units, width: int) -> str:
    """Return the whole report for a terminal `width` characters wide: plain text without escapes."""
    answer = [text.headline(report), text.journey(report, units), sun_words(report.harvest.segments)]
    answer += [text.losses(report), text.interval(report), text.other_skies(report)]
    answer += [" ".join(text.battery(report)), " ".join(day_sentences(report))]
    assumed = [f"{subject}: {sentence}" for subject, sentence in assumptions(report.basis, units)]
    blocks = [
        *(_wrapped(sentence, width) for sentence in answer if sentence),
        "",
        leg_table(report, units, width),
        *_tables(report, width),
        *(_wrapped(line, width) + "\n" for line in [text.loss_ledger(report)] if line),
        "Assumed",
        *(_wrapped(line, width, indent="  ") for line in assumed),
        *(_wrapped(line, width) for line in [text.warned(len(report.harvest.warnings))] if line),
    ]
    return "\n".join(blocks) + "\n"


def _tables(report: HarvestReport, width: int) -> list[str]:
    return [
        f"{table_text(table.header, table.cells, width)}\n{_wrapped(table.note, width)}\n"
        for table in tables_of(report.harvest)
    ]


def leg_table(report: HarvestReport, units: Units, width: int) -> str:
    """Return the legs as a table of plain text; columns give way when `width` is small."""
    harvest = report.harvest
    table = Table(box=_RULES, show_edge=False, pad_edge=False, padding=(0, 1))
    local = clock_of(harvest)
    room = width - len(local.at(local.start_utc_s)) + len("12:42")
    shown = [name for name, *_ in _cells(harvest.totals, "", units) if room >= _WANTED_WIDTH.get(name, 0)]
    for name in shown:
        title = {"distance": units.distance, "least": f"9 {local.case}s in 10"}.get(name, name)
        words = name in ("leg", "start")
        table.add_column(title, justify="left" if words else "right", overflow="fold", no_wrap=name != "leg")
    for leg in harvest.legs:
        _add(table, shown, _cells(leg, local.at(leg.start_utc_s), units))
    table.add_section()
    _add(table, shown, _cells(harvest.totals, "", units))
    return _plain(table, width)


def _cells(row: LegResult, start: str, units: Units) -> list[tuple[str, str]]:
    stop = row.kind == "stop"
    name = printable(row.name) or "unnamed"
    return [
        ("leg", f"{row.leg} {name}" if row.leg else "whole drive"),
        ("start", start),
        ("distance", "stop" if stop else readable(row.distance_km * units.distance_per_km)),
        ("min", f"{row.duration_s / 60:.0f}"),
        ("mean W", readable(row.mean_w)),
        ("peak W", readable(row.peak_w)),
        ("Wh", readable(row.energy_wh)),
        *([] if row.energy_low_wh is None else [("least", readable(row.energy_low_wh))]),
        ("shade loss Wh", readable(row.open_sky_wh - row.energy_wh)),
        *([] if row.soc_end_frac is None else [("battery", percent(row.soc_end_frac))]),
    ]


def _add(table: Table, shown: list[str], cells: list[tuple[str, str]]) -> None:
    # Text, not str: rich would read square brackets in a name as its own markup.
    values = dict(cells)
    table.add_row(*(Text(values.get(name, "")) for name in shown))


def _plain(table: Table, width: int) -> str:
    console = Console(file=io.StringIO(), width=width, color_system=None, force_terminal=False)
    with console.capture() as capture:
        console.print(table)
    return "\n".join(line.rstrip() for line in capture.get().splitlines()) + "\n"


def _wrapped(line: str, width: int, indent: str = "") -> str:
    return textwrap.fill(line, width, initial_indent=indent, subsequent_indent=f"{indent}  ")
