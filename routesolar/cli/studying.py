"""A study run for the command line: how far it is, and its summary handed over."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from time import monotonic

from routesolar.cli.running import progress, tell, terminal_width, warn
from routesolar.errors import InputError
from routesolar.files.study_folder import as_json
from routesolar.report.decision_text import terminal_text
from routesolar.report.units import duration
from routesolar.report.words_study import study_words
from routesolar.studies.running import Progress, processors, study
from routesolar.studies.study import read_study
from routesolar.studies.summary import study_report
from routesolar.trip.names import printable
from routesolar.trip.study_summary import StudySummary

TOLD_EVERY_S = 60.0  # where no terminal shows a line that changes


def counted(file: Path, *, json: bool) -> None:
    """Print how many drives a study file asks for."""
    with progress("reading routes and rigs"):
        counts = read_study(file).counts
    if json:
        sys.stdout.write(as_json(counts))
        return
    combined = " x ".join(f"{count:,} {name}" for name, count in counts.items() if name != "drives")
    sys.stdout.write(f"{counts['drives']:,} drives: {combined}\n")
    tell("nothing is computed without a folder; add -o outputs/year")


def computed(
    file: Path, output: Path, workers: int | None, cluster: str | None, *, force: bool
) -> StudySummary:
    """Return the summary of a study that is computed into a folder."""
    with progress("reading routes and rigs"):
        asked = read_study(file)
    with _shown_progress() as told:
        return study(asked, output, workers=workers or processors(), cluster=cluster, force=force, told=told)


def deliver_study(summary: StudySummary, output: Path, *, json: bool) -> None:
    """Print a summary, and what failed beside it.

    Raises:
        InputError: no drive could be computed.
    """
    tell(f"written: {printable(str(output))}")
    report = study_report(summary)
    sys.stdout.write(
        as_json(report.content)
        if json
        else terminal_text(study_words(summary), report.warnings, terminal_width())
    )
    warn(report.warnings)
    if not summary.whole.drives:
        raise InputError("none of the drives could be computed; the warnings say why")


@contextmanager
def _shown_progress() -> Iterator[Callable[[Progress], None]]:
    """Show on stderr how far a study is: one line that changes on a terminal, else a line now and then."""
    if sys.stderr is not None and sys.stderr.isatty():
        from rich.console import Console

        with Console(stderr=True).status("starting ...") as shown:
            yield lambda progress: shown.update(_words(progress))
        return
    told_s = monotonic()

    def tell_now_and_then(progress: Progress) -> None:
        nonlocal told_s
        last = progress.done == progress.parts
        if progress.done == 0 or last or monotonic() - told_s >= TOLD_EVERY_S:
            told_s = monotonic()
            tell(_words(progress))

    yield tell_now_and_then


def _words(progress: Progress) -> str:
    if not progress.parts:
        return "all parts are there already"
    left = "" if not progress.left_s else f", {duration(progress.left_s)} left"
    return f"{progress.done:,} of {progress.parts:,} parts{left}"
