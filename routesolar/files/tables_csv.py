"""legs.csv, days.csv and segments.csv, and what stands beside tables to say what they rest on."""

import csv
import io
import json
import math
from collections.abc import Iterable, Mapping

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


def tables_json(tables: Mapping[str, str], *, title: str, rests_on: str, software: str) -> str:
    """Return csv-metadata.json: what the tables of a folder rest on, and their columns.

    This is the name and the form in which W3C's "Metadata Vocabulary for Tabular Data" (2015) lets a folder
    describe its tables. A line within a table would be a row to some readers and an error to others, and a
    column of one long sentence would be in every reader's way.
    """
    headers = {name: next(csv.reader(io.StringIO(text))) for name, text in tables.items()}
    content = {
        "@context": "http://www.w3.org/ns/csvw",
        "dc:title": printable(title),
        "dc:description": rests_on,
        "dc:creator": printable(software),
        "tables": [
            {"url": name, "tableSchema": {"columns": [{"name": column} for column in header]}}
            for name, header in headers.items()
        ],
    }
    return json.dumps(content, indent=1) + "\n"


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
