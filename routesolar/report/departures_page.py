"""page.html of departures: a slider over them, with map, chart and table that follow it."""

from markupsafe import Markup

from routesolar.decisions.departures import Departures
from routesolar.report.departures_data import swept_data, swept_of
from routesolar.report.live_page import live_values
from routesolar.report.map_signs import brought
from routesolar.report.outlines_drawn import credits_of
from routesolar.report.page_parts import key_rows, page_templates
from routesolar.report.plane import lines, slenderness
from routesolar.report.still_map import MARGIN, Painted, painted_svg
from routesolar.report.units import METRIC, Units
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.ground import Ground

FLAT = 0.6  # height over width below which a lower map suffices


def departures_html(
    report: DecisionReport,
    result: Departures,
    watts: DepartureWatts,
    ground: Ground,
    units: Units = METRIC,
) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing.

    `watts` holds the departures of the result in the order they leave; without a script the best is shown.

    Raises:
        ValueError: the watts are of other departures than the result.
    """
    swept = swept_of(watts, result)
    data = swept_data(swept, result, ground, units)
    brings = brought(swept.segments, watts.power_w[swept.best].astype(float), swept.best)
    best_w = swept.power_w[swept.best].astype(float)
    best = Painted(swept.segments, swept.pieces, best_w, swept.scale, brings)
    values = live_values(report, swept.segments, data, "departures.js")
    return (
        page_templates()
        .get_template("departures.html")
        .render(
            values
            | {
                "still_map": Markup(painted_svg(best, ground, units)),
                "key_rows": key_rows(swept.scale),
                "ground": ground,
                "credits": credits_of(ground),
                "has_stops": bool(swept.segments.stopped.any()),
                "flat": slenderness(lines(swept.segments).bounds(MARGIN)) < FLAT,
                "last": len(swept.power_w) - 1,
                "best": swept.best,
            }
        )
    )
