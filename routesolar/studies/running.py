"""A study run: parts that are there are kept, the others computed and written, and all of them summed up."""

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from time import monotonic
from typing import Any, NamedTuple

from routesolar.errors import OutputError, UsageError
from routesolar.files.parquet import check_arrow
from routesolar.files.reading import PathText
from routesolar.files.study_folder import (
    SCHEMA,
    Part,
    as_json,
    check_study_folder,
    finished_parts,
    folder_name,
    remove_part,
    write_beside,
    write_part,
)
from routesolar.report.study_page import study_html
from routesolar.studies.local import Done, Task, computed_here, computed_in_processes
from routesolar.studies.study import RouteDrives, Study, drives_of
from routesolar.studies.summary import study_report, summed_up
from routesolar.trip.study_summary import StudySummary
from routesolar.trips.words import path_of
from routesolar.version import SOFTWARE

CHANGES_SAID = 6


class Progress(NamedTuple):
    """How far a study is: parts done of all to be computed now, and how many seconds are left, if known."""

    done: int
    parts: int
    left_s: float | None


def study(
    asked: Study,
    folder: PathText,
    *,
    workers: int = 1,
    cluster: str | None = None,
    force: bool = False,
    told: Callable[[Progress], None] = lambda progress: None,
) -> StudySummary:
    """Compute a study into a folder, a part for every route and date, and return its summary.

    Parts that are there and rest on the same are kept, so that a run that was interrupted goes on. `workers` is
    the number of processes (a script that asks for several needs `if __name__ == "__main__":`); `cluster` is
    the address of the scheduler of a dask.distributed cluster, used instead. A drive that fails is a row with
    its error. `told` hears how far it is. Numbers are those of rs.harvest, whoever computes them.

    Raises:
        OutputError: the folder holds something else, parts that rest on something else (`force` computes
            these anew), or the disk refuses.
        UsageError: workers are none, or a library is missing. InputError: a raster or map cannot be read.
    """
    if workers < 1:
        raise UsageError(f"workers is {workers}; give at least 1")
    check_arrow()
    into = path_of(folder, "folder")
    check_study_folder(into)
    by_route = {folder_name(route): drives_of(asked, route) for route in asked.routes}
    kept = _kept(asked, into, by_route, force=force)
    tasks = [Task(by_route[part.route], part.day) for part in asked.parts() if part not in kept]
    write_beside(into, "study.json", as_json(_described(asked, by_route)))
    started_s = monotonic()
    told(Progress(0, len(tasks), None))
    for number, done in enumerate(_computed(tasks, workers, cluster), 1):
        write_part(into, Part(folder_name(done.task.drives.name), done.task.day), done.tables)
        left_s = (monotonic() - started_s) / number * (len(tasks) - number)
        told(Progress(number, len(tasks), left_s))
    summary = summed_up(asked, into)
    report = study_report(summary)
    write_beside(into, "result.json", as_json(report.content))
    write_beside(into, "page.html", study_html(report, summary))
    return summary


def processors() -> int:
    """Return how many processors this process may use."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity is not None else os.cpu_count() or 1


def _computed(tasks: Sequence[Task], workers: int, cluster: str | None) -> Iterator[Done]:
    if not tasks:
        return iter(())
    if cluster is not None:
        from routesolar.studies.cluster import computed_on_cluster

        return computed_on_cluster(tasks, cluster)
    workers = min(workers, len(tasks))
    return computed_here(tasks) if workers == 1 else computed_in_processes(tasks, workers)


def _kept(asked: Study, folder: Path, by_route: Mapping[str, RouteDrives], *, force: bool) -> set[Part]:
    """Return the parts that are there and still hold; others are removed with `force`, else refused."""
    wanted = set(asked.parts())
    kept: set[Part] = set()
    changed: dict[str, None] = {}
    stale: list[Part] = []
    for part, record in finished_parts(folder):
        drives = by_route.get(part.route)
        if part in wanted and drives is not None and record == drives.record():
            kept.add(part)
        elif record:
            stale.append(part)
            changed |= dict.fromkeys(_changes(part, record, drives))
    if stale and not force:
        said = list(changed)[:CHANGES_SAID]
        more = f" and {len(changed) - len(said)} more" if len(changed) > len(said) else ""
        raise OutputError(
            f"{folder} holds {len(stale):,} parts of another study: {'; '.join(said)}{more}. "
            "--force computes these anew, or give another folder with -o"
        )
    for part in stale:
        remove_part(folder, part)
    return kept


def _changes(part: Part, record: Mapping[str, Any], drives: RouteDrives | None) -> list[str]:
    """Return in words why a part that is there is not one of this study."""
    if drives is None:
        return [f"route {part.route} is not asked for"]
    before, now = record.get("made_of", {}), drives.made_of
    if not isinstance(before, dict):
        return ["it was made otherwise"]
    words = [f"{name} is new" for name in now.keys() - before.keys()]
    words += [f"{name} is not asked for" for name in before.keys() - now.keys()]
    words += [f"{name} has changed" for name in now.keys() & before.keys() if now[name] != before[name]]
    return sorted(words) or [f"{part.day} is not asked for"]


def _described(asked: Study, by_route: Mapping[str, RouteDrives]) -> dict[str, Any]:
    """Return what study.json says: what was asked for, and what it rests on."""
    return {
        "schema": SCHEMA,
        "software": SOFTWARE,
        "name": asked.name,
        "drives": asked.count,
        "time_zone": asked.time_zone,
        "routes": [
            {
                "route": each.name,
                "folder": folder,
                "made_of": [{"name": name, "digest": digest} for name, digest in each.made_of.items()],
            }
            for folder, each in by_route.items()
        ],
        "dates": [day.isoformat() for day in asked.dates],
        "departures_s": list(asked.departures_s),
        "skies": list(next(iter(by_route.values())).skies),
        "seasons": list(next(iter(by_route.values())).seasons),
    }
