"""Static charts of a drive along its local time, drawn onto given matplotlib axes."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from routesolar.report.clock_words import clock_of
from routesolar.report.sun_times import dark_on
from routesolar.report.ticks import clock_ticks
from routesolar.trip.arrays import FloatArray
from routesolar.trip.harvest import Harvest

INK, FAINT, PAPER = "#22262e", "#8b8f97", "#fbf9f4"
NIGHT = "#283460"
POWER_LINE = "#a8442f"
SUN, OPEN, DRIVE, STOP = "#c8862b", "#5b6472", "#1d5a6c", "#5d9838"
CHARGE = "#2c7e68"


def draw_power(axes: Axes, harvest: Harvest) -> None:
    """Draw expected watts against local time, between sun hidden and sun out, and the sun's height."""
    segments = harvest.segments
    edges_s = np.append(segments.start_utc_s[0], segments.arrival_utc_s[0])
    low, high = harvest.state_power_w.min(axis=0), harvest.state_power_w.max(axis=0)
    top = max(float(high.max()), float(harvest.open_sky_w.max()), 1.0) * 1.08
    band = axes.fill_between(edges_s, _held(low), _held(high), step="post", color=SUN, alpha=0.25, linewidth=0)
    band.set_label("sun hidden to sun out")
    axes.plot(
        edges_s, _held(harvest.power_w), drawstyle="steps-post", color=POWER_LINE, lw=1.4, label="expected"
    )
    axes.plot(edges_s, _held(harvest.open_sky_w), drawstyle="steps-post", color=OPEN, lw=0.8, label="open sky")
    sun = axes.twinx()
    middle_s = segments.middle_utc_s[0]
    height = np.where(harvest.sun_elevation_deg > 0, harvest.sun_elevation_deg, np.nan)
    (line,) = sun.plot(middle_s, height, color=FAINT, lw=0.9, ls=(0, (4, 3)), label="sun's height (right)")
    sun.set_ylim(0, 92)
    sun.set_yticks([0, 30, 60, 90], ["0°", "30°", "60°", "90°"])
    sun.spines[["top", "left"]].set_visible(False)
    axes.add_line(Line2D([], [], color=FAINT, lw=0.9, ls=line.get_linestyle(), label=line.get_label()))
    shade_nights(axes, dark_on(segments))
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0, 1), ncols=4, borderaxespad=0, fontsize=7.5)
    for leg in harvest.legs:
        if leg.kind == "stop":
            axes.axvspan(leg.start_utc_s, leg.end_utc_s, color=INK, alpha=0.07, linewidth=0)
    axes.set_xlim(edges_s[0], edges_s[-1])
    axes.set_ylim(0, top)
    axes.set_ylabel("W")
    _finish(axes, harvest, 8)


def draw_hours(axes: Axes, harvest: Harvest) -> None:
    """Draw the energy of every local clock hour, driving and standing apart."""
    starts_s = np.array([hour.start_utc_s for hour in harvest.hours])
    driving = np.array([hour.driving_wh for hour in harvest.hours])
    stopped = np.array([hour.stopped_wh for hour in harvest.hours])
    axes.bar(starts_s, driving, width=3300, align="edge", color=DRIVE, label="driving")
    axes.bar(starts_s, stopped, width=3300, align="edge", bottom=driving, color=STOP, label="standing")
    shade_nights(axes, dark_on(harvest.segments))
    axes.set_ylabel("Wh per hour")
    axes.set_ylim(0, max(float((driving + stopped).max(initial=0)), 1.0) * 1.08)
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0, 1), ncols=2, borderaxespad=0, fontsize=7.5)
    _finish(axes, harvest, 4)


def draw_battery(axes: Axes, harvest: Harvest) -> None:
    """Draw the battery's charge, what it stays above in nine cases of ten, and its reserve."""
    charge, segments = harvest.charge, harvest.segments
    if charge is None:
        return
    ends_s = segments.start_utc_s[0] + segments.duration_s[0]
    case = clock_of(harvest).case
    axes.plot(ends_s, 100 * charge.soc_frac, color=CHARGE, lw=1.6, label="battery, expected")
    axes.plot(
        ends_s,
        100 * charge.soc_poor_frac,
        color=CHARGE,
        lw=1,
        ls=(0, (5, 3)),
        label=f"above on nine {case}s in ten",
    )
    axes.axhline(100 * charge.reserve_soc_frac, color=POWER_LINE, lw=1, ls=(0, (2, 3)), label="reserve")
    shade_nights(axes, dark_on(segments))
    axes.legend(frameon=False, loc="lower left", bbox_to_anchor=(0, 1), ncols=3, borderaxespad=0, fontsize=7.5)
    axes.set_xlim(float(segments.start_utc_s[0, 0]), float(ends_s[-1]))
    axes.set_ylim(0, 104)
    axes.set_yticks([0, 50, 100], ["0", "50", "100 %"])
    _finish(axes, harvest, 8)


def shade_nights(axes: Axes, dark: Sequence[tuple[float, float]]) -> None:
    """Shade when the sun is down, behind all else."""
    for start_s, end_s in dark:
        axes.axvspan(start_s, end_s, color=NIGHT, alpha=0.16, linewidth=0, zorder=0)


def _held(values: FloatArray) -> FloatArray:
    """Return the values with the last repeated, so that a step is drawn for it too."""
    return np.append(values, values[-1])


def _finish(axes: Axes, harvest: Harvest, most_ticks: int) -> None:
    ticks = clock_ticks(*axes.get_xlim(), harvest.segments.time_zone, most_ticks)
    axes.set_xticks([utc_s for utc_s, _ in ticks], [label for _, label in ticks])
    axes.set_facecolor(PAPER)
    axes.spines[["top", "right"]].set_visible(False)
