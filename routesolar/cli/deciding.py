"""What the decision commands share: the days and clock times to try, and the handing over of the answer."""

import sys
from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np

from routesolar.cli.options import DayOptions, OutputOptions
from routesolar.cli.request import Request, Surroundings, skies_of, surroundings_of, timed
from routesolar.cli.running import progress, tell, terminal_width, warn
from routesolar.errors import UsageError
from routesolar.files import values, wording
from routesolar.files.decision_exports import decision_json, write_decision
from routesolar.files.wording import clock_s
from routesolar.model.sweeping import sweep
from routesolar.report.decision_text import Words, terminal_text
from routesolar.timetable import parse_departure
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import to_local
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sweep import Sweep
from routesolar.version import VERSION

Draw = Callable[[DecisionReport], tuple[DecisionReport, str]]  # gives the report its chart, and the page


def day_of(request: Request, given: DayOptions) -> date:
    """Return the day asked for, else that of the departure in the trip file or on the command line."""
    if given.date is not None:
        return wording.day_of(given.date)
    if request.said.depart is None:
        raise UsageError("which day? give --date 2026-11-20")
    return to_local(parse_departure(request.said.depart, request.time_zone).utc_s, request.time_zone).date()


def clock_range_s(given: DayOptions) -> tuple[float, float, float]:
    """Return the first and last clock time and the step, in seconds."""
    try:
        first, last = clock_s(given.from_), clock_s(given.to)
    except ValueError as error:
        raise UsageError(f"--from and --to: {error}") from None
    return first, last, values.duration_s(given.every, "every")


def swept(request: Request, rig: Rig, segments: Segments) -> tuple[Sweep, Surroundings]:
    """Return every departure of the segments, and what stands along the road."""
    with progress("reading what stands along the road"):
        around = surroundings_of(request, segments, rig)
    count = len(segments.departure_utc_s)
    with progress(f"computing {count} departure{'s' * (count > 1)}"):
        return sweep(segments, rig, around.canopy, around.terrain, skies_of(request)), around


def timed_at(request: Request, departures_utc_s: FloatArray) -> Segments:
    """Return the drive timed for many departures."""
    with progress("timing the drive"):
        return timed(request, np.asarray(departures_utc_s))


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
