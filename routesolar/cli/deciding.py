"""What the decision commands share: the day to try, and the handing over of the answer."""

import sys
from collections.abc import Callable
from datetime import date
from typing import Any

from routesolar.cli.options import DayOptions, OutputOptions
from routesolar.cli.running import progress, tell, terminal_width, warn
from routesolar.files import wording
from routesolar.files.decision_exports import decision_json, write_decision
from routesolar.report.decision_text import Words, terminal_text
from routesolar.trip.decision_report import DecisionReport
from routesolar.version import VERSION

Draw = Callable[[DecisionReport], tuple[DecisionReport, str]]  # gives the report its chart, and the page


def day_given(day: DayOptions) -> date | None:
    """Return the day asked for, None where none is."""
    return None if day.date is None else wording.day_of(day.date)


def deliver_decision(title: str, words: Words, content: dict[str, Any], out: OutputOptions, draw: Draw) -> None:
    """Print the answer, and write the files if a folder was given.

    `content` becomes result.json and names its command. Only for files is anything drawn, and are the libraries
    loaded that draw: they take most of a second.
    """
    report = _report_of(title, words, content)
    if out.output is not None:
        with progress("drawing the page"):
            report, page = draw(report)
        write_decision(out.output, report, page=page, force=out.force)
        tell(f"written: {out.output}")
    text = decision_json(report) if out.json else terminal_text(words, report.warnings, terminal_width())
    sys.stdout.write(text)
    warn(report.warnings)


def _report_of(title: str, words: Words, content: dict[str, Any]) -> DecisionReport:
    """Return a decision with all that presents it but its chart."""
    software = f"routesolar {VERSION}"
    head = {"schema": content["schema"], "software": software}
    return DecisionReport(
        command=content["schema"].removeprefix("routesolar.").partition("/")[0],
        title=title,
        answer=words.answer,
        remarks=words.remarks,
        header=words.header,
        cells=words.cells,
        rows=content["rows"],
        content=head | content,
        chart_png=b"",
        chart_words=words.chart_words,
        warnings=tuple(content["warnings"]),
        software=software,
    )
