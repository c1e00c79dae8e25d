"""One chart a decision, as a PNG: the same bytes for the same result."""

import textwrap
import warnings
from collections.abc import Callable, Sequence
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from routesolar.decisions.breaks import Breaks
from routesolar.decisions.calendar import YearCalendar, calendar_grid
from routesolar.decisions.compare import ComparedRoute, Comparison
from routesolar.decisions.departures import Departures
from routesolar.decisions.size import PanelSize, Sizing, charted
from routesolar.decisions.starts import clock as clock_of_day
from routesolar.report.charts import DRIVE, FAINT, INK, OPEN, PAPER, POWER_LINE, STOP, SUN, shade_nights
from routesolar.report.clock_words import clock
from routesolar.report.colours import NOTHING, POWER, classes, is_dark
from routesolar.report.decision_text import chance
from routesolar.report.figures import figure_png
from routesolar.report.sun_times import dark_at
from routesolar.report.ticks import clock_ticks
from routesolar.report.units import METRIC, Units, energy
from routesolar.report.words_sizes import charted_with
from routesolar.trip.names import printable

_DPI = 150
_LINES = ("#a8442f", "#2f6d7e", "#8a6d1d", "#5a3474", "#4d7a3a", "#5b6472")
_DASHES = ("-", (0, (6, 2)), (0, (1, 1.5)), (0, (8, 2, 2, 2)), (0, (3, 3)), (0, (2, 1, 1, 1)))


def departures_png(result: Departures, foot: str = "") -> bytes:
    """Return energy against the time of leaving, with nine days in ten, and which departures are alike."""

    def draw(figure: Any) -> None:
        axes: Axes = figure.add_axes((0.075, 0.13, 0.9, 0.72))
        rows = sorted(result.ranked, key=lambda row: row.depart_utc_s)
        at_s = np.array([row.depart_utc_s for row in rows])
        step_s = float(np.min(np.diff(at_s))) if len(at_s) > 1 else 3600.0
        low, high, middle, driving = (
            np.array([getattr(row, name) for row in rows])
            for name in ("energy_low_wh", "energy_high_wh", "energy_wh", "driving_wh")
        )
        for drive in result.drives:
            shade_nights(axes, dark_at(drive.segments, at_s[0] - step_s, at_s[-1] + step_s))
        for row in result.alike if len(rows) > 1 else ():
            axes.axvspan(
                row.depart_utc_s - step_s / 2, row.depart_utc_s + step_s / 2, color=SUN, alpha=0.13, lw=0
            )
        axes.bar(at_s, driving, width=0.62 * step_s, color=DRIVE, label="driving")
        if np.any(middle > driving):
            axes.bar(at_s, middle - driving, 0.62 * step_s, bottom=driving, color=STOP, label="standing")
        axes.vlines(at_s, low, high, color=INK, lw=0.9, label="eight days in ten")
        _name_best(axes, result, (at_s[0], at_s[-1]))
        axes.set_xlim(at_s[0] - step_s, at_s[-1] + step_s)
        axes.set_ylim(0, max(float(high.max()), 1.0) * 1.12)
        ticks = clock_ticks(*axes.get_xlim(), result.time_zone, 14)
        axes.set_xticks([utc_s for utc_s, _ in ticks], [label for _, label in ticks])
        handles, labels = axes.get_legend_handles_labels()
        if len(rows) > 1:
            handles, labels = (
                [*handles, Patch(color=SUN, alpha=0.25)],
                [*labels, "as good as the best"],
            )
        _plain(axes, "leaving at", "Wh")
        _legend(axes, handles, labels)

    return chart_png(10.0, 4.4, f"Energy by departure, {result.sky} sky", draw, foot)


def _name_best(axes: Axes, result: Departures, span_s: tuple[float, float]) -> None:
    """Write the best departure above its bar, inside the frame."""
    best = result.best
    along = (best.depart_utc_s - span_s[0]) / max(span_s[1] - span_s[0], 1.0)
    side = "left" if along < 0.08 else "right" if along > 0.92 else "center"
    label = f"{clock(best.depart_utc_s, result.time_zone)}  {energy(best.energy_wh)}"
    place = (best.depart_utc_s, best.energy_high_wh)
    axes.annotate(label, place, (0, 6), textcoords="offset points", ha=side, fontsize=9, fontweight="bold")


def calendar_png(result: YearCalendar, foot: str = "") -> bytes:
    """Return a map of heat: months down, hours of leaving across, energy as colour and in figures."""
    clock_s, grid = calendar_grid(result, result.value)
    scale = classes(float(np.nanmax(grid)), POWER)

    def draw(figure: Any) -> None:
        axes: Axes = figure.add_axes((0.06, 0.09, 0.82, 0.8))
        index = scale.of(grid).astype(float)
        index[np.isnan(grid)] = np.nan
        colours = ListedColormap([NOTHING, *scale.colours])
        norm = BoundaryNorm(np.arange(-1.5, len(scale.colours)), len(scale.colours) + 1)
        axes.imshow(
            np.ma.masked_invalid(index), cmap=colours, norm=norm, aspect="auto", interpolation="nearest"
        )
        _figures(axes, grid, scale.colours, index)
        best_row, best_column = result.best_cell
        frame = (best_column - 0.5, best_row - 0.5)
        axes.add_patch(mpl.patches.Rectangle(frame, 1, 1, fill=False, edgecolor=INK, lw=2.2))
        every = max(1, len(clock_s) // 12)
        axes.set_xticks(range(0, len(clock_s), every), [clock_of_day(float(s)) for s in clock_s[::every]])
        axes.set_yticks(range(12), "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split())
        axes.tick_params(length=0)
        axes.spines[:].set_visible(False)
        axes.set_xlabel("leaving at")
        keys = [Patch(color=colour) for colour in reversed(scale.colours)] + [Patch(color=NOTHING)]
        bounds = [f"{scale.step * i:g} - {scale.step * (i + 1):g}" for i in range(len(scale.colours))]
        figure.legend(
            keys,
            [*reversed(bounds), "none"],
            title=result.value_words[1],
            loc="upper left",
            bbox_to_anchor=(0.885, 0.9),
            frameon=False,
        )

    return chart_png(
        10.0, 5.0, f"{result.value_words[0]} by month and hour of leaving, {result.sky} sky", draw, foot
    )


def compare_png(result: Comparison, units: Units = METRIC, foot: str = "") -> bytes:
    """Return the energy gathered along the way on each route, and beside it the sums with eight days in ten."""

    def draw(figure: Any) -> None:
        way: Axes = figure.add_axes((0.075, 0.13, 0.5, 0.72))
        sums: Axes = figure.add_axes((0.62, 0.13, 0.36, 0.72))
        zone = result.routes[result.best].time_zone
        start_s = result.routes[result.best].depart_utc_s
        for number, route in enumerate(result.routes):
            colour, dash = _style(number)
            at_s = start_s + route.progress.elapsed_s
            way.plot(at_s, route.progress.energy_wh, color=colour, ls=dash, lw=1.8)
            arrival_s = start_s + route.duration_s
            way.plot(arrival_s, np.interp(arrival_s, at_s, route.progress.energy_wh), "o", color=colour, ms=5)
        if result.parting is not None:
            way.axvspan(
                start_s + result.parting.from_s, start_s + result.parting.to_s, color=SUN, alpha=0.13, lw=0
            )
        if result.drives and len({route.depart_utc_s for route in result.routes}) == 1:
            shade_nights(way, dark_at(result.drives[0].segments, start_s, start_s + result.counted_s))
        ticks = clock_ticks(*way.get_xlim(), zone, 7)
        way.set_xticks([utc_s for utc_s, _ in ticks], [label for _, label in ticks])
        way.set_ylim(0, None)
        _plain(way, "", "Wh gathered")
        _legend(way, [Patch(color=SUN, alpha=0.25), _dot()], ["where the best gains most", "arrival"])
        _sums(sums, result.routes, units)

    return chart_png(10.0, 4.4, f"Routes side by side, {result.sky} sky", draw, foot)


def size_png(result: Sizing, foot: str = "") -> bytes:
    """Return what each size brings, and what of its power controller and battery turn away."""

    def draw(figure: Any) -> None:
        axes: Axes = figure.add_axes((0.075, 0.13, 0.84, 0.72))
        sizes = charted(result)
        places = np.array([size.rated_w for size in sizes])
        step_w = float(np.min(np.diff(places), initial=0.4 * places[-1]))
        wide = 0.62 * min(step_w, 0.12 * places[-1])
        stack = (
            ("into loads and battery", SUN, [size.used_wh for size in sizes]),
            ("battery too cold", POWER_LINE, [size.cold_wh for size in sizes]),
            ("battery takes no more", OPEN, [size.full_wh for size in sizes]),
            ("over the controller's limit", NOTHING, [size.clipped_wh for size in sizes]),
        )
        bottom = np.zeros(len(places))
        for label, colour, values in stack:
            if np.max(values) > 0:
                axes.bar(places, values, wide, bottom=bottom, color=colour, label=label)
                bottom += values
        if result.knee is not None:
            larger = places[places > result.knee.rated_w]
            knee = (result.knee.rated_w + float(larger.min(initial=1.1 * places[-1]))) / 2
            axes.axvline(knee, color=INK, lw=1.0, ls=(0, (4, 3)))
            axes.text(knee, bottom.max() * 1.06, "  little more beyond", fontsize=8.5, va="center")
        near = np.diff(places, prepend=-np.inf) < 0.05 * places[-1]
        labels = ["" if hidden else f"{watts:g} W" for watts, hidden in zip(places, near, strict=True)]
        axes.set_xticks(places, labels)
        axes.set_xlim(0, 1.1 * places[-1])
        axes.set_ylim(0, max(float(bottom.max()), 1.0) * 1.12)
        _plain(axes, "", "Wh")
        handles, labels = axes.get_legend_handles_labels()
        if any(size.load_share_frac is not None for size in sizes):
            handles.append(_load_share(axes, sizes, POWER_LINE))
            labels.append("loads the sun covers (right)")
        _legend(axes, handles, labels)

    return chart_png(10.0, 4.4, f"Energy by panel size{charted_with(result)}, {result.sky} sky", draw, foot)


def breaks_png(result: Breaks, foot: str = "") -> bytes:
    """Return what the drive brings, by where along it the break is."""

    def draw(figure: Any) -> None:
        axes: Axes = figure.add_axes((0.075, 0.13, 0.88, 0.72))
        order = [pausing for _, pausing in result.at_places]
        along_km = np.array([one.along_m / 1000 for one, _ in result.at_places])
        near_km = np.diff(along_km)
        wide = 0.7 * float(np.min(near_km[near_km > 0], initial=max(along_km[-1] / 12, 1.0)))
        parts = (
            ("in breaks", SUN, [one.break_wh for one in order]),
            ("while driving and at other stops", POWER_LINE, [one.energy_wh - one.break_wh for one in order]),
        )
        bottom = np.zeros(len(order))
        for label, colour, values in parts:
            axes.bar(along_km, values, wide, bottom=bottom, color=colour, label=label)
            bottom += values
        axes.set_ylim(0, float(bottom.max()) * 1.12)
        _plain(axes, "km along the drive", "Wh")
        _legend(axes, *axes.get_legend_handles_labels())

    return chart_png(10.0, 4.4, f"Energy by place of the break, {result.sky} sky", draw, foot)


def chart_png(width: float, height: float, title: str, draw: Callable[[Any], None], foot: str) -> bytes:
    """Return a drawn sheet with what it rests on beneath; our own look whatever style the machine has."""
    lines = textwrap.wrap(printable(foot), int(width * 17))
    below = 0.14 * len(lines) + (0.14 if lines else 0.0)
    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update({"font.size": 9, "axes.linewidth": 0.7, "text.parse_math": False})
        for name in ("text.color", "axes.edgecolor", "axes.labelcolor", "xtick.color", "ytick.color"):
            mpl.rcParams[name] = INK
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure = Figure(figsize=(width, height + below), dpi=_DPI, facecolor=PAPER)
        chart: Any = figure.add_subfigure(figure.add_gridspec(2, 1, height_ratios=(height, below or 1e-6))[0])
        chart.set_facecolor(PAPER)
        chart.text(0.06, 1 - 0.27 / height, title, fontsize=12, fontweight="bold", va="center")
        draw(chart)
        figure.text(0.06, 0.1 / (height + below), "\n".join(lines), fontsize=7.5, color=OPEN, va="bottom")
        return figure_png(figure)


def _plain(axes: Axes, across: str, up: str) -> None:
    axes.set_facecolor("none")
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_xlabel(across)
    axes.set_ylabel(up)
    axes.grid(axis="y", color=FAINT, alpha=0.25, lw=0.6)
    axes.set_axisbelow(True)


def _legend(axes: Axes, handles: list[mpl.artist.Artist], labels: list[str]) -> None:
    axes.legend(
        handles,
        labels,
        frameon=False,
        loc="lower left",
        bbox_to_anchor=(0, 1),
        ncols=4,
        borderaxespad=0,
        fontsize=8,
    )


def _style(number: int) -> tuple[str, object]:
    return _LINES[number % len(_LINES)], _DASHES[number % len(_DASHES)]


def _dot() -> mpl.lines.Line2D:
    return mpl.lines.Line2D([], [], color=INK, marker="o", ls="", ms=5)


def _figures(axes: Axes, grid: np.ndarray, colours: Sequence[str], index: np.ndarray) -> None:
    """Write the watt-hours into cells that have room for them."""
    if grid.shape[1] > 24:
        return
    for row, column in np.argwhere(grid >= 0.5):
        letters = "#fff" if is_dark(colours[int(index[row, column])]) else "#000"
        shown = f"{grid[row, column]:.0f}"
        axes.text(column, row, shown, ha="center", va="center", fontsize=7, color=letters)


def _sums(axes: Axes, routes: tuple[ComparedRoute, ...], units: Units) -> None:
    """Draw each route's energy with its spread, named, and its chance of being the best."""
    most = max(route.energy_high_wh for route in routes)
    for number, route in enumerate(routes):
        colour, _ = _style(number)
        axes.barh(number, route.energy_wh, 0.34, color=colour)
        axes.hlines(number, route.energy_low_wh, route.energy_high_wh, color=INK, lw=1.1)
        name = printable(route.name)
        short = name if len(name) <= 30 else name[:29] + "…"
        away = f"{route.distance_km * units.distance_per_km:.0f} {units.distance}"
        axes.text(0, number - 0.22, f"{short}, {away}", fontsize=9, va="bottom", fontweight="bold")
        words = f"{energy(route.energy_wh)}, best on {chance(route.win_prob)} of days"
        axes.text(0, number + 0.22, words, fontsize=8.5, va="top")
    axes.set_ylim(len(routes) - 0.4, -0.6)
    axes.set_xlim(0, max(most, 1.0) * 1.04)
    axes.set_yticks([])
    axes.set_facecolor("none")
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.set_xlabel("Wh, with eight days in ten")


def _load_share(axes: Axes, sizes: tuple[PanelSize, ...], colour: str) -> mpl.lines.Line2D:
    """Draw the share of the loads that the sun carries on an axis of its own at the right."""
    right = axes.twinx()
    shares = [np.nan if size.load_share_frac is None else 100 * size.load_share_frac for size in sizes]
    (line,) = right.plot([size.rated_w for size in sizes], shares, color=colour, marker="o", ms=5, lw=1.4)
    right.set_ylim(0, 112)
    right.set_yticks(range(0, 101, 25), [f"{part} %" for part in range(0, 101, 25)])
    right.spines[["top", "left"]].set_visible(False)
    return line
