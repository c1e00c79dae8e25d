"""legs.csv, days.csv and segments.csv."""

import csv
import io
import math
from collections.abc import Iterable

from routesolar.files.results import day_rows, leg_rows
from routesolar.files.segment_rows import segment_columns
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.names import printable

_FORMULA_STARTS = tuple("=+-@＝＋－＠")


def legs_csv(report: HarvestReport) -> str:
    """Return legs.csv: the same keys as result.json's legs, nine significant digits, empty if undefined."""
    rows = leg_rows(report)
    return csv_text(list(rows[0]), (row.values() for row in rows))


def days_csv(report: HarvestReport) -> str:
    """Return days.csv: the same keys as result.json's days, nine significant digits, empty if undefined."""
    rows = day_rows(report.harvest)
    return csv_text(list(rows[0]), (row.values() for row in rows))


def segments_csv(report: HarvestReport) -> str:
    """Return segments.csv: a row a segment, nine significant digits, empty if undefined."""
    columns = segment_columns(report.harvest)
    return csv_text(list(columns), zip(*columns.values(), strict=True))


def csv_text(header: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Return a CSV table with one line a row."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return text.getvalue()


def csv_cells(header: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """Return a table to be read again: every number to its last digit, NaN empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([("" if value is None or value != value else value) for value in row] for row in rows)
    return text.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.9g}" if math.isfinite(value) else ""
    if isinstance(value, str):
        shown = printable(value)
        # A spreadsheet would run this as a formula; an apostrophe makes it text.
        return f"'{shown}" if shown.startswith(_FORMULA_STARTS) else shown
    return str(value)
