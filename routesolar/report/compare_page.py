"""page.html of a comparison: the routes on one map and on one chart of what they have gathered."""

from collections.abc import Iterable, Sequence

import numpy as np
from markupsafe import Markup

from routesolar.decisions.compare import Comparison
from routesolar.report.compare_data import DrawnRoute, compared_data, drawn_routes, watt_classes
from routesolar.report.live_page import live_values
from routesolar.report.map_parts import Frame, frame_around, number_svg, path, sheet_svg
from routesolar.report.outlines_drawn import credits_of, outline_data
from routesolar.report.page_parts import key_rows, page_templates
from routesolar.report.plane import Lines, ground_bounds
from routesolar.report.still_map import MARGIN
from routesolar.report.units import METRIC, Units
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.ground import Ground
from routesolar.trip.names import printable

STYLES = 6  # of lines: the style sheet draws as many


def compare_html(
    report: DecisionReport,
    result: Comparison,
    drives: Sequence[DepartureWatts],
    ground: Ground,
    units: Units = METRIC,
) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing.

    `drives` holds the watts of the compared routes in their order, of one departure each.

    Raises:
        ValueError: the drives are not the routes of the result.
    """
    drawn = drawn_routes(result, drives)
    data = compared_data(result, drawn, units) | {
        "ground": ground_bounds(ground, drawn[0].segments),
        "outlines": outline_data(ground.outlines),
    }
    return (
        page_templates()
        .get_template("compare.html")
        .render(
            live_values(report, drawn[0].segments, data, "compare.js")
            | {
                "still_map": Markup(routes_svg(drawn, ground, units)),
                "key_rows": key_rows(watt_classes(drawn)),
                "ground": ground,
                "credits": credits_of(ground),
                "routes": [
                    {
                        "letter": one.letter,
                        "name": printable(one.route.name) or "unnamed",
                        "style": _style(number),
                    }
                    for number, one in enumerate(drawn)
                ],
            }
        )
    )


def routes_svg(drawn: Sequence[DrawnRoute], ground: Ground, units: Units) -> str:
    """Return the still map of all routes, each in a line of its own kind, as an SVG element."""
    frame = frame_around(Lines(ends=np.concatenate([one.ends for one in drawn])).bounds(MARGIN))
    names = ", ".join(one.letter for one in drawn)
    return sheet_svg(frame, f"Map of the routes {names}", ground, _roads(drawn, frame), units)


def _roads(drawn: Sequence[DrawnRoute], frame: Frame) -> Iterable[str]:
    """Yield the routes, one over the other; where they run together all are seen through one another's gaps."""
    paths = [path(frame.place(one.ends)) for one in drawn]
    yield from (f'<path class="casing" d="{drawn_path}"/>' for drawn_path in paths)
    yield from (f'<path class="road bed" d="{drawn_path}"/>' for drawn_path in paths)
    for number, drawn_path in enumerate(paths):
        yield f'<path class="road route-{_style(number)}" d="{drawn_path}"/>'
    for one in drawn:
        x, y = frame.place(one.ends[one.middle, 0]).tolist()
        yield number_svg((x, y), one.letter, stop=False)


def _style(number: int) -> int:
    return number % STYLES + 1
