"""Plausible decisions made without the simulation, for tests of what is drawn of them.

Only shapes and bookkeeping are meant seriously: a departure's energy is what its watts add up to.
"""

from dataclasses import replace

import numpy as np
from sample_harvest import RATED_W, ZONE, winding_segments

from routesolar.decisions.departures import Departure, Departures, departure_rows, departures_dict
from routesolar.report.decision_charts import departures_png
from routesolar.report.words_when import departures_words
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
            energy_p10_wh=float(0.6 * sums[i]),
            energy_p90_wh=float(1.3 * sums[i]),
            driving_wh=float(sums[i] - stopped[i]),
            stopped_wh=float(stopped[i]),
            shade_loss_frac=0.2 if sums[i] > 0 else None,
            soc_end_frac=0.5 + 0.001 * i,
            best_wins_frac=0.5 + 0.4 * float(1 - sums[i] / sums[order[0]]),
        )
        for i in order
    )
    return Departures(ranked=rows, time_zone=ZONE, sky="broken", best_by_sky=(), warnings=("A straight line.",))


def departures_report(result, title="Survey of the upper river"):
    """All that presents the departures."""
    words = departures_words(result)
    return DecisionReport(
        command="departures",
        title=title,
        answer=words.answer,
        remarks=words.remarks,
        header=words.header,
        cells=words.cells,
        rows=departure_rows(result),
        content=departures_dict(result),
        chart_png=departures_png(result),
        chart_words=words.chart_words,
        warnings=result.warnings,
        software="routesolar 0.1.0",
    )
