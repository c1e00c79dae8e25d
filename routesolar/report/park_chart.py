"""The spots around a stop as a picture: north up, colour is energy, grey is taken by trees."""

from typing import Any

import numpy as np
from matplotlib.patches import Patch

from routesolar.decisions.park import Parking
from routesolar.report.charts import INK
from routesolar.report.colours import NOTHING, POWER, classes, round_step
from routesolar.report.decision_charts import chart_png
from routesolar.report.park_plane import apart_m, from_stop_m
from routesolar.report.units import METRIC, Units, energy
from routesolar.report.words_where import taken_by
from routesolar.trip.names import printable

_TREES = "#7d9a78"
_NUMBERED = 6  # the best spots carry their rank


def park_png(result: Parking, units: Units = METRIC, foot: str = "") -> bytes:
    """Return the map of the spots with the best one's facing."""
    spots = result.spots
    east, north = from_stop_m(
        result, [spot.latitude_deg for spot in spots], [spot.longitude_deg for spot in spots]
    )
    energy_wh = np.array([spot.energy_wh for spot in spots])
    scale = classes(float(energy_wh.max()), POWER)

    def draw(figure: Any) -> None:
        axes = figure.add_axes((0.03, 0.03, 0.72, 0.88))
        taken = from_stop_m(result, result.occupied_latitude_deg, result.occupied_longitude_deg)
        reach_m = max(float(np.abs(np.concatenate([east, north, *taken])).max()), 5.0) * 1.06
        size = (0.88 * 6.4 * 72 * apart_m(result, (east, north), taken) / (2 * reach_m)) ** 2
        index = scale.of(energy_wh)
        colours = [scale.colours[i] if i >= 0 else NOTHING for i in index]
        axes.scatter(*taken, s=size, c=_TREES, marker="s", linewidths=0)
        axes.scatter(east, north, s=size, c=colours, marker="s", linewidths=0)
        axes.plot(0, 0, "+", color=INK, ms=14, mew=2)
        best = spots[0]
        for spot, x, y in zip(spots[1:_NUMBERED], east[1:], north[1:], strict=False):
            axes.text(x, y, str(spot.rank), fontsize=8, ha="center", va="center")
        axes.scatter(east[:1], north[:1], s=170, facecolors="none", edgecolors=INK, linewidths=1.8)
        if best.heading_deg is not None:
            turn = np.radians(best.heading_deg)
            tip = east[0] + 0.14 * reach_m * np.sin(turn), north[0] + 0.14 * reach_m * np.cos(turn)
            axes.annotate(
                "", tip, (east[0], north[0]), arrowprops={"arrowstyle": "-|>", "color": INK, "lw": 1.8}
            )
        bar_m = round_step(reach_m / 3 * units.height_per_m) / units.height_per_m
        axes.plot([-reach_m * 0.97, -reach_m * 0.97 + bar_m], [-reach_m * 0.95] * 2, color=INK, lw=2.5)
        label = f"{bar_m * units.height_per_m:.0f} {units.height}, north is up"
        axes.text(-reach_m * 0.97, -reach_m * 0.93, label, fontsize=8.5, va="bottom")
        axes.set_xlim(-reach_m, reach_m)
        axes.set_ylim(-reach_m, reach_m)
        axes.set_aspect("equal")
        axes.axis("off")
        _key(figure, scale.step, scale.colours, taken_by(result))
        figure.text(0.775, 0.30, f"○  best, {energy(best.energy_wh)}", fontsize=9)
        figure.text(0.775, 0.25, f"+  {printable(result.stay.name)[:26]}", fontsize=9)

    title = f"Energy by spot over the stay, {result.sky} sky"
    return chart_png(8.6, 6.9, title, draw, foot)


def _key(figure: Any, step: float, colours: tuple[str, ...], taken: str) -> None:
    handles = [Patch(color=colour) for colour in reversed(colours)]
    names = [f"{step * i:g} - {step * (i + 1):g}" for i in reversed(range(len(colours)))]
    if taken:
        handles.append(Patch(color=_TREES))
        names.append(taken)
    figure.legend(
        handles,
        names,
        title="Wh",
        loc="upper left",
        bbox_to_anchor=(0.76, 0.9),
        frameon=False,
        alignment="left",
    )
