"""What a study of many drives says, in sentences and cells."""

from routesolar.report.decision_text import Words
from routesolar.report.units import energy
from routesolar.report.words_when import MONTHS
from routesolar.trip.study_summary import DriveGroup, StudySummary

_FEW = 2  # groups from which on they are compared


def study_words(summary: StudySummary) -> Words:
    """Return what a study says."""
    whole = summary.whole
    if whole.mean_wh is None or whole.low_wh is None or whole.high_wh is None:
        answer = f"None of {summary.drives:,} drives could be computed."
    else:
        answer = (
            f"{_counted(whole.drives)} {energy(whole.mean_wh)} on average; nine in ten bring at least "
            f"{energy(whole.low_wh)}, one in ten at least {energy(whole.high_wh)}."
        )
    remarks = (
        "Each drive counts with its expected energy, at the battery terminals; dates from "
        f"{summary.first_date} to {summary.last_date}.",
        _best("month", "in", [(MONTHS[int(group.label[0]) - 1], group) for group in summary.months]),
        _best("hour of leaving", "at", [(f"{group.label[0]}:00", group) for group in summary.hours]),
        _failed(summary),
    )
    return Words(
        answer=answer,
        remarks=tuple(remark for remark in remarks if remark),
        header=(
            "route",
            "rig",
            "sky",
            "drives",
            "Wh on average",
            "9 drives in 10 at least",
            "half at least",
            "1 drive in 10 at least",
        ),
        cells=tuple(_cells(group) for group in summary.rows),
        chart_words="Energy of a drive by month, hour of leaving, route and rig: eight in ten, and half.",
    )


def _counted(drives: int) -> str:
    return "One drive brings" if drives == 1 else f"{drives:,} drives bring"


def _best(what: str, at: str, named: list[tuple[str, DriveGroup]]) -> str:
    """Return in words which group has most and least, where there are several."""
    means = [(group.mean_wh, name) for name, group in named if group.mean_wh is not None]
    if len(means) < _FEW:
        return ""
    (most_wh, best), (least_wh, worst) = max(means), min(means)
    return (
        f"By {what}, most {at} {best} ({energy(most_wh)} on average), least {at} {worst} ({energy(least_wh)})."
    )


def _failed(summary: StudySummary) -> str:
    if not summary.failed:
        return ""
    return f"{summary.failed:,} of {summary.drives:,} drives failed; their rows say why."


def _cells(group: DriveGroup) -> tuple[str, ...]:
    values = (group.mean_wh, group.low_wh, group.mid_wh, group.high_wh)
    return (*group.label, f"{group.drives:,}", *("-" if value is None else f"{value:.0f}" for value in values))
