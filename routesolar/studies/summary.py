"""A finished study summed up from its tables, part by part, whatever its size."""

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from routesolar.files.parquet import columns_of
from routesolar.files.study_folder import SCHEMA, place_of
from routesolar.report.words_study import study_words
from routesolar.studies.study import Study
from routesolar.trip.arrays import FloatArray
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.study_summary import DriveGroup, StudySummary
from routesolar.version import SOFTWARE

LEAST_WH, STEP, BINS = 1e-3, 0.005, 5_000  # classes of half a percent, from a milliwatt-hour to 70 MWh
ERRORS_KEPT = 5
KINDS = ("months", "hours", "routes", "rigs", "skies")
_COLUMNS = ("route", "rig", "sky", "depart_date", "depart_clock", "energy_wh", "error")


class Tally:
    """Energies counted by class, so that a million drives take no more memory than a hundred."""

    def __init__(self) -> None:
        self.count, self.sum_wh = 0, 0.0
        self.by_class = np.zeros(BINS + 1, dtype=np.int64)

    def add(self, energy_wh: FloatArray) -> None:
        """Count energies."""
        self.count += len(energy_wh)
        self.sum_wh += float(energy_wh.sum())
        place = np.log(np.maximum(energy_wh, LEAST_WH) / LEAST_WH) / STEP
        number = np.where(energy_wh < LEAST_WH, 0, np.clip(place.astype(np.int64) + 1, 1, BINS))
        self.by_class += np.bincount(number, minlength=BINS + 1)

    def at(self, share: float) -> float:
        """Return the energy that this share of the drives stays below, good to half a class."""
        rank = max(int(np.ceil(share * self.count)), 1)
        number = int(np.searchsorted(np.cumsum(self.by_class), rank))
        return 0.0 if number == 0 else float(LEAST_WH * np.exp((number - 0.5) * STEP))

    def group(self, label: tuple[str, ...]) -> DriveGroup:
        """Return what was counted."""
        if not self.count:
            return DriveGroup(label=label, drives=0, mean_wh=None, low_wh=None, mid_wh=None, high_wh=None)
        return DriveGroup(
            label=label,
            drives=self.count,
            mean_wh=self.sum_wh / self.count,
            low_wh=self.at(0.1),
            mid_wh=self.at(0.5),
            high_wh=self.at(0.9),
        )


def summed_up(asked: Study, folder: Path) -> StudySummary:
    """Return the summary of a study whose parts all lie in a folder.

    Raises:
        InputError: a part cannot be read.
    """
    whole, errors = Tally(), Counter[str]()
    kinds: dict[str, dict[tuple[str, ...], Tally]] = {kind: {} for kind in (*KINDS, "rows")}
    for part in asked.parts():
        for block in columns_of(place_of(folder, "drives", part), _COLUMNS):
            errors.update(error for error in block["error"] if error is not None)
            _count(block, whole, kinds)
    groups = {
        kind: tuple(tally.group(label) for label, tally in _in_order(kind, found))
        for kind, found in kinds.items()
    }
    return StudySummary(
        name=asked.name,
        time_zone=asked.time_zone,
        first_date=min(asked.dates).isoformat(),
        last_date=max(asked.dates).isoformat(),
        failed=errors.total(),
        errors=tuple(errors.most_common(ERRORS_KEPT)),
        whole=whole.group(()),
        **groups,
    )


def _in_order(kind: str, found: dict[tuple[str, ...], Tally]) -> Iterable[tuple[tuple[str, ...], Tally]]:
    """Return months and hours as the clock has them, others as the study names them."""
    if kind not in ("months", "hours"):
        return found.items()
    return [(label, found[label]) for label in sorted(found)]


def _count(block: dict[str, list[Any]], whole: Tally, kinds: dict[str, dict[tuple[str, ...], Tally]]) -> None:
    """Count some rows in all their groups."""
    good = [number for number, error in enumerate(block["error"]) if error is None]
    energy_wh = np.array([block["energy_wh"][number] for number in good], dtype=np.float64)
    whole.add(energy_wh)
    labels: dict[str, list[tuple[str, ...]]] = {
        "months": [(f"{block['depart_date'][number].month:02d}",) for number in good],
        "hours": [(block["depart_clock"][number][:2],) for number in good],
        "routes": [(block["route"][number],) for number in good],
        "rigs": [(block["rig"][number],) for number in good],
        "skies": [(block["sky"][number],) for number in good],
        "rows": [(block["route"][number], block["rig"][number], block["sky"][number]) for number in good],
    }
    for kind, of_rows in labels.items():
        for label in dict.fromkeys(of_rows):
            chosen = np.array([one == label for one in of_rows])
            kinds[kind].setdefault(label, Tally()).add(energy_wh[chosen])


def study_report(summary: StudySummary) -> DecisionReport:
    """Return a summary with all that presents it."""
    words = study_words(summary)
    by = {
        kind: [_row((key,), group) for group in getattr(summary, kind)]
        for kind, key in zip(KINDS, ("month", "hour", "route", "rig", "sky"), strict=True)
    }
    rows = [_row(("route", "rig", "sky"), group) for group in summary.rows]
    rests_on = f"{summary.name}: {summary.first_date} to {summary.last_date} ({summary.time_zone}); {SOFTWARE}."
    content = {
        "schema": SCHEMA,
        "software": SOFTWARE,
        "rests_on": rests_on,
        "name": summary.name,
        "time_zone": summary.time_zone,
        "first_date": summary.first_date,
        "last_date": summary.last_date,
        "failed": summary.failed,
        "errors": [{"error": error, "drives": count} for error, count in summary.errors],
        **_row((), summary.whole),
        **by,
        "rows": rows,
    }
    return DecisionReport(
        command="study",
        title=summary.name,
        answer=words.answer,
        remarks=words.remarks,
        header=words.header,
        cells=words.cells,
        rows=rows,
        content=content,
        chart_png=b"",
        chart_words=words.chart_words,
        warnings=tuple(f"{count:,} drives failed: {error}" for error, count in summary.errors),
        software=SOFTWARE,
        rests_on=rests_on,
    )


def _row(keys: Sequence[str], group: DriveGroup) -> dict[str, Any]:
    return dict(zip(keys, group.label, strict=True)) | {
        "drives": group.drives,
        "energy_mean_wh": group.mean_wh,
        "drives_low_wh": group.low_wh,
        "drives_mid_wh": group.mid_wh,
        "drives_high_wh": group.high_wh,
    }
