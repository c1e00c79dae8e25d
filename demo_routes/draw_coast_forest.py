"""Draw what the trees of the demo's coast and forest roads take, by month and hour: outputs/coast_forest.png.

Run: python demo_routes/draw_coast_forest.py
It also prints the table by leg that README.md here shows.
"""

from datetime import datetime
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from routesolar.decisions.calendar import YearCalendar, calendar_grid
from routesolar.files.stated import Stated, overridden
from routesolar.files.tripfile import read_trip_file
from routesolar.report.charts import INK, PAPER
from routesolar.report.colours import LOSS
from routesolar.trips.deciding import calendar
from routesolar.trips.harvesting import harvest_trip
from routesolar.trips.trip import Trip

HERE = Path(__file__).parent
PICTURE = HERE.parent / "outputs" / "coast_forest.png"
YEAR = 2026
HOURS = {"first": "08:00", "last": "16:00", "every": "2h"}  # of leaving
ROADS = {
    "Coast road: fields, few trees, 16 m wide": "coast.toml",
    "Forest road: 60-90 % cover, 11 m wide": "forest.toml",
}
LEG_STARTS = ("2026-01-15 08:00", "2026-01-15 12:00", "2026-07-15 08:00", "2026-07-15 12:00")
COLOURS = LinearSegmentedColormap.from_list("loss", LOSS.colours(64))
MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()


def main() -> None:
    """Draw the picture and print the table."""
    figure = Figure(figsize=(5.4, 7.8), dpi=150, facecolor=PAPER)
    figure.text(0.04, 0.967, "What trees and hills take of the sun's energy", weight="bold", size=13, color=INK)
    figure.text(0.04, 0.945, "percent, by month and hour of leaving, broken sky", size=10, color=INK)
    for (title, file), bottom in zip(ROADS.items(), (0.51, 0.045), strict=True):
        axes = figure.add_axes((0.1, bottom, 0.86, 0.385))
        draw_year(axes, calendar(Trip.of(read_trip_file(HERE / file)), YEAR, **HOURS))
        axes.set_title(title, loc="left", size=11, color=INK)
    FigureCanvasAgg(figure).print_png(str(PICTURE))
    for file in ROADS.values():
        print_legs(HERE / file)


def draw_year(axes: Axes, year: YearCalendar) -> None:
    """Draw the share lost as colour and in figures: months down, hours of leaving across."""
    clock_s, loss_frac = calendar_grid(year, year.shade_loss_frac)
    axes.imshow(loss_frac, cmap=COLOURS, vmin=0, vmax=1, aspect="auto")
    for (row, column), loss in np.ndenumerate(loss_frac):
        if np.isfinite(loss):
            colour = PAPER if loss > 0.5 else INK
            axes.text(column, row, f"{100 * loss:.0f}", ha="center", va="center", size=10, color=colour)
    axes.set_xticks(range(len(clock_s)), [f"{s / 3600:.0f}:00" for s in clock_s])
    axes.set_yticks(range(12), MONTHS)
    axes.tick_params(length=0, colors=INK)
    axes.spines[:].set_visible(False)
    axes.set_facecolor("#d9d7d2")  # no sun


def print_legs(path: Path) -> None:
    """Print what is lost on every leg, in rows of a table."""
    losses = []
    for depart in LEG_STARTS:
        said = overridden(read_trip_file(path), Stated(depart=datetime.fromisoformat(depart)))
        harvest = harvest_trip(Trip.of(said))
        losses.append([leg.shade_loss_frac for leg in harvest.legs])
    for leg, shares in zip(harvest.legs, np.transpose(losses), strict=True):
        cells = " | ".join(f"{share:.0%}" for share in shares)
        print(f"| {path.stem} | {leg.name} | {leg.distance_km:.0f} km | {cells} |")


if __name__ == "__main__":
    main()
