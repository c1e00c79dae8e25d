"""Plausible decisions made without the simulation, for tests of what is drawn of them.

Only shapes and bookkeeping are meant seriously: a departure's energy is what its watts add up to.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from sample_harvest import RATED_W, ZONE, winding_segments

from routesolar.decisions.calendar import YearCalendar, calendar_dict, calendar_rows
from routesolar.decisions.compare import (
    ComparedRoute,
    Comparison,
    Parting,
    Progress,
    compare_dict,
    compare_rows,
)
from routesolar.decisions.criterion import Outcome
from routesolar.decisions.departures import Departure, Departures, departure_rows, departures_dict
from routesolar.decisions.size import Knee, PanelSize, Sizing, size_dict, size_rows
from routesolar.report.decision_charts import calendar_png, compare_png, departures_png, size_png
from routesolar.report.decision_text import Words
from routesolar.report.units import METRIC
from routesolar.report.words_sizes import size_words
from routesolar.report.words_when import calendar_words, departures_words
from routesolar.report.words_which import compare_words
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.departure_watts import DepartureWatts

MIDNIGHT_UTC_S = 1795093200.0  # 2026-11-20 00:00 in Hobart (UTC+11)


def departing_segments(count=240, departures=24, *, every_s=900.0, first_s=5 * 3600.0):
    """The winding line, timed for departures at equal steps of one day."""
    one = winding_segments(count)
    departs_utc_s = MIDNIGHT_UTC_S + first_s + every_s * np.arange(departures)
    later_s = departs_utc_s[:, None] - one.departure_utc_s
    return replace(
        one,
        start_utc_s=one.start_utc_s + later_s,
        duration_s=np.broadcast_to(one.duration_s, (departures, count)),
        departure_utc_s=departs_utc_s,
    )


def departing_watts(count=240, departures=24, **when):
    """Watts under a sun that is up from 05:30 to 20:30, flickering along the road."""
    segments = departing_segments(count, departures, **when)
    hour = (segments.middle_utc_s - MIDNIGHT_UTC_S) / 3600 % 24
    height = np.clip(np.sin(np.pi * (hour - 5.5) / 15), 0, None) * ((hour > 5.5) & (hour < 20.5))
    flicker = 0.55 + 0.45 * np.sin(2 * segments.along_m / 1e5) ** 2
    return DepartureWatts(segments=segments, power_w=(RATED_W * 0.85 * height * flicker).astype(np.float32))


def ranked(watts):
    """The departures of these watts, best first."""
    segments = watts.segments
    energy_wh = watts.power_w * segments.duration_s / 3600
    sums, stopped = energy_wh.sum(axis=1), energy_wh[:, segments.stopped].sum(axis=1)
    order = np.argsort(-sums, kind="stable")
    rows = tuple(
        Departure(
            depart_utc_s=float(segments.departure_utc_s[i]),
            arrive_utc_s=float(segments.arrival_utc_s[i]),
            energy_wh=float(sums[i]),
            energy_low_wh=float(0.6 * sums[i]),
            energy_high_wh=float(1.3 * sums[i]),
            driving_wh=float(sums[i] - stopped[i]),
            stopped_wh=float(stopped[i]),
            shade_loss_frac=0.2 if sums[i] > 0 else None,
            soc_end_frac=0.5 + 0.001 * i,
            best_wins_frac=0.5 + 0.4 * float(1 - sums[i] / sums[order[0]]),
            outcome=Outcome(float(sums[i]), float(sums[i]), float(segments.arrival_utc_s[i])),
        )
        for i in order
    )
    return Departures(ranked=rows, time_zone=ZONE, sky="broken", best_by_sky=(), warnings=("A straight line.",))


RESTS_ON = (
    "Trees and hills along the road are not known here and were left out. Fri 20 Nov 2026, leaving 05:00 to "
    "20:00 (Australia/Hobart); 200 W panel, flat; broken sky (5-6 okta, sun and cloud in turn), as sure as a "
    "forecast for tomorrow; routesolar 0.1.0."
)


class Presented(NamedTuple):
    """A decision's title, words, rows, content and chart."""

    title: str
    words: Words
    rows: list
    content: dict
    chart_png: bytes


def presented(command, parts, warnings):
    """All that presents a decision."""
    words = parts.words
    return DecisionReport(
        command=command,
        title=parts.title,
        answer=words.answer,
        remarks=words.remarks,
        header=words.header,
        cells=words.cells,
        rows=parts.rows,
        content=parts.content,
        chart_png=parts.chart_png,
        chart_words=words.chart_words,
        warnings=warnings,
        software="routesolar 0.1.0",
        rests_on=RESTS_ON,
        assumptions=(("Sky", "broken (5-6 okta, sun and cloud in turn)."), ("Trees", "none.")),
    )


def departures_report(result, title="Survey of the upper river", chart_png=None):
    """All that presents the departures; a chart that is drawn already is not drawn again."""
    words, chart_png = departures_words(result), chart_png or departures_png(result)
    parts = Presented(title, words, departure_rows(result), departures_dict(result), chart_png)
    return presented("departures", parts, result.warnings)


def side_by_side(names=("Coast road", "Forest road"), count=240, *, later_s=0.0):
    """Routes that part and meet again: each the winding line, bowed further north, in deeper shade."""
    drives, routes = [], []
    for number, name in enumerate(names):
        bent = _bent(departing_segments(count, 1, first_s=9 * 3600.0 + number * later_s), 0.4 * number)
        watts = departing_watts(count, 1, first_s=9 * 3600.0 + number * later_s)
        drives.append(replace(watts, segments=bent, power_w=watts.power_w * np.float32(1 - 0.2 * number)))
        routes.append(_compared(name, drives[-1], win_prob=(0.8, 0.2, 0.0)[number % 3]))
    order = sorted(range(len(routes)), key=lambda i: -routes[i].energy_wh)
    result = Comparison(
        routes=tuple(routes),
        sky="broken",
        best=order[0],
        second=order[1],
        parting=Parting(from_s=3600.0, to_s=9000.0, from_km=80.0, to_km=200.0, gain_wh=50.0),
        same_day=True,
        counted_s=max(route.progress.elapsed_s[-1] for route in routes),
    )
    return result, drives


def _bent(segments, north_deg):
    """The line bowed northwards between its ends."""
    bow = north_deg * np.sin(np.pi * segments.along_m / segments.along_m[-1])
    end = np.append(bow[1:], 0.0)
    return replace(
        segments,
        latitude_deg=segments.latitude_deg + bow,
        middle_latitude_deg=segments.middle_latitude_deg + (bow + end) / 2,
        end_latitude_deg=segments.end_latitude_deg + end,
    )


def _compared(name, drive, win_prob):
    segments = drive.segments
    seconds = segments.duration_s[0]
    energy_wh = np.cumsum(drive.power_w[0] * seconds / 3600)
    duration_s, total_wh = float(seconds.sum()), float(energy_wh[-1])
    return ComparedRoute(
        name=name,
        depart_utc_s=float(segments.departure_utc_s[0]),
        arrive_utc_s=float(segments.arrival_utc_s[0]),
        time_zone=ZONE,
        distance_km=float(segments.length_m.sum() / 1000),
        duration_s=duration_s,
        energy_wh=total_wh,
        energy_low_wh=0.6 * total_wh,
        energy_high_wh=1.3 * total_wh,
        waiting_wh=0.0,
        shade_loss_frac=0.2,
        energy_per_hour_wh=total_wh * 3600 / duration_s,
        soc_end_frac=None,
        win_prob=win_prob,
        outcome=Outcome(total_wh, total_wh, float(segments.arrival_utc_s[0])),
        progress=Progress(
            elapsed_s=np.append(0.0, np.cumsum(seconds)),
            along_km=np.append(0.0, (segments.along_m + segments.length_m) / 1000),
            energy_wh=np.append(0.0, energy_wh),
        ),
    )


def compared_report(result, title="Coast road or Forest road"):
    """All that presents the comparison."""
    words = compare_words(result, METRIC)
    parts = Presented(title, words, compare_rows(result), compare_dict(result), compare_png(result))
    return presented("compare", parts, result.warnings)


def a_year(*, north: bool = False, every_h: int = 1):
    """Leaving at every hour of twelve days: the sun is up longest and highest in the middle of summer."""
    month, hour = (part.ravel() for part in np.meshgrid(np.arange(1, 13), np.arange(0, 24, every_h)))
    summer = np.cos(2 * np.pi * (month - (6.7 if north else 0.7)) / 12)
    half_day_h = 6 + 2.6 * summer
    height = np.clip(np.cos(np.pi / 2 * np.clip((hour - 12) / half_day_h, -1, 1)), 0, None)
    energy_wh = np.where(np.abs(hour - 12) < half_day_h, 620 * height * (0.55 + 0.45 * summer), 0.0)
    return YearCalendar(
        departure_utc_s=MIDNIGHT_UTC_S + 86400.0 * 30 * month + 3600.0 * hour,
        month=month.astype(float),
        clock_s=3600.0 * hour,
        energy_wh=energy_wh,
        shade_loss_frac=np.where(energy_wh > 0, 0.2, np.nan),
        outcomes=tuple(Outcome(wh, wh, 0.0) for wh in energy_wh.tolist()),
        time_zone=ZONE,
        sky="broken",
        warnings=("A straight line.",),
    )


def calendar_report(result, title="Survey of the upper river"):
    """All that presents the calendar."""
    words, content = calendar_words(result), calendar_dict(result)
    parts = Presented(title, words, calendar_rows(result), content, calendar_png(result))
    return presented("calendar", parts, result.warnings)


def sizes(rated_w=(100.0, 200.0, 300.0, 600.0), *, has_load=True):
    """Panel sizes of which the larger ones meet the controller's limit and a full battery."""
    found = []
    for number, watts in enumerate(rated_w):
        energy_wh = 4.0 * min(watts, 400.0)
        full_wh = max(0.0, energy_wh - 900.0)
        found.append(
            PanelSize(
                rated_w=watts,
                energy_wh=energy_wh,
                energy_low_wh=0.7 * energy_wh,
                clipped_wh=4.0 * max(0.0, watts - 400.0),
                cold_wh=12.0 * number,
                full_wh=full_wh,
                full_prob=0.6 if full_wh else 0.0,
                load_share_frac=min(1.0, energy_wh / 1000.0) if has_load else None,
                shortfall_wh=max(0.0, 600.0 - energy_wh) if has_load else None,
                short_prob=0.3 if has_load else None,
                average_need=None,
                poor_need=None,
                added_per_w_wh=4.0 if watts <= 300 else 0.6,
            )
        )
    return Sizing(
        sizes=tuple(found),
        knee=Knee(rated_w=rated_w[-2], cause="battery") if len(rated_w) > 1 else None,
        load_wh=1000.0 if has_load else None,
        sky="broken",
    )


def size_report(result, title="Survey of the upper river"):
    """All that presents the sizes."""
    parts = Presented(title, size_words(result), size_rows(result), size_dict(result), size_png(result))
    return presented("size", parts, result.warnings)
