"""The files of one decision, written into one folder."""

import json
from pathlib import Path

from routesolar.files.folder import TABLES, write_folder
from routesolar.files.reading import PathText
from routesolar.files.tables_csv import csv_text, tables_json
from routesolar.trip.decision_report import DecisionReport


def write_decision(folder: PathText, report: DecisionReport, *, page: str, force: bool = False) -> None:
    """Write result.json, the rows as CSV, the chart and the page into `folder`, all or none.

    Raises:
        OutputError: the folder may not be replaced, or the disk refuses.
    """
    tables = {f"{report.command}.csv": csv_text(report.rows[0], (row.values() for row in report.rows))}
    described = tables_json(tables, title=report.title, rests_on=report.rests_on, software=report.software)
    contents = {
        "result.json": decision_json(report).encode(),
        **{name: table.encode() for name, table in tables.items()},
        TABLES: described.encode(),
        f"{report.command}.png": report.chart_png,
        "page.html": page.encode(),
    }
    write_folder(Path(folder), contents, force=force)


def decision_json(report: DecisionReport) -> str:
    """Return the text of result.json: full floats, null where undefined, only ASCII characters."""
    return json.dumps(report.content, indent=1, allow_nan=False) + "\n"
