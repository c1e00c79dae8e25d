"""What decision pages with a live map share: styles, the map library, its licence, data."""

from typing import Any

from markupsafe import Markup

from routesolar.report.decision_page import decision_values
from routesolar.report.leaflet import MAP_ID, leaflet_css
from routesolar.report.packing import script_json
from routesolar.report.page_parts import asset, live_script
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.segments import Segments

# In this order they make one script: each uses only what stands above it.
_SHARED = ("basics.js", "drive.js", "labels.js", "signs.js", "map.js", "chart.js", "linked.js", "rows.js")


def live_values(
    report: DecisionReport, segments: Segments, data: dict[str, Any], script: str
) -> dict[str, Any]:
    """Return what the template of a live page asks for; `script` names the page's own, started last."""
    styles = [leaflet_css(), asset("page.css"), asset("decision.css")]
    return decision_values(report, styles, live_script(segments, (*_SHARED, script))) | {
        "licence": Markup(asset("leaflet-licence.txt")),
        "data": Markup(script_json(data)),
        "map_id": f"map_{MAP_ID}",
    }
