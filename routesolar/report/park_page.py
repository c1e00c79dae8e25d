"""page.html of parking: the spots on a map, the best with arrows, each told when pointed at."""

from typing import Any

from markupsafe import Markup

from routesolar.decisions.park import Parking
from routesolar.report.decision_page import decision_values
from routesolar.report.packing import script_json
from routesolar.report.page_parts import asset, key_rows, own_script, page_templates
from routesolar.report.park_map import ParkPlane, park_plane, park_svg, spot_classes
from routesolar.report.units import METRIC, Units
from routesolar.report.words_where import taken_by
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.names import printable

_SCRIPTS = ("basics.js", "linked.js", "rows.js", "park.js")


def park_html(report: DecisionReport, result: Parking, units: Units = METRIC) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing."""
    plane = park_plane(result)
    styles = [asset("page.css"), asset("decision.css")]
    return (
        page_templates()
        .get_template("park.html")
        .render(
            decision_values(report, styles, own_script(_SCRIPTS))
            | {
                "data": Markup(script_json(_data(result, plane))),
                "map": Markup(park_svg(result, plane, units)),
                "key_rows": key_rows(spot_classes(result), "Wh"),
                "taken_by": taken_by(result),
                "has_road": result.road is not None,
                "stop": printable(result.stay.name),
                "headings_deg": [spot.heading_deg for spot in result.spots],
                "face": report.header.index("face"),
            }
        )
    )


def _data(result: Parking, plane: ParkPlane) -> dict[str, Any]:
    """Return where the spots lie in the picture and which way they face; the table tells the rest."""
    return {
        "spots": [
            {"x": round(x, 1), "y": round(y, 1), "heading_deg": spot.heading_deg}
            for spot, (x, y) in zip(result.spots, plane.spots.tolist(), strict=True)
        ],
        "side": round(plane.side, 1),
    }
