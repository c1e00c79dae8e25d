"""What the decision commands share: the day to try, and the handing over of the answer."""

import sys
from datetime import date

from routesolar.cli.options import DayOptions, OutputOptions
from routesolar.cli.running import load_map_library, progress, tell, terminal_width, warn
from routesolar.files import wording
from routesolar.files.decision_exports import decision_json
from routesolar.report.decision_text import terminal_text
from routesolar.trip.names import printable
from routesolar.trips.presenting import Decision, decision_report, decision_words
from routesolar.trips.reporting import units_named
from routesolar.trips.saving import save


def day_given(day: DayOptions) -> date | None:
    """Return the day asked for, None where none is."""
    return None if day.date is None else wording.day_of(day.date)


def deliver_decision(result: Decision, out: OutputOptions, units: str = "metric") -> None:
    """Print the answer, and write the files if a folder was given.

    Only for files is anything drawn, and are the libraries loaded that draw: they take most of a second.
    """
    shown = units_named(units)
    if out.output is not None:
        with progress("drawing the page"):
            load_map_library()
            save(result, out.output, units=units, force=out.force)
        tell(f"written: {printable(str(out.output))}")
    report = decision_report(result, shown)
    words = decision_words(result, shown)
    words = words._replace(remarks=(*words.remarks, *([report.rests_on] if report.rests_on else [])))
    sys.stdout.write(
        decision_json(report) if out.json else terminal_text(words, report.warnings, terminal_width())
    )
    warn(report.warnings)
