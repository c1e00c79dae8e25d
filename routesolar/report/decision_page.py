"""page.html of a decision: the answer, its chart, its table; self-contained and without script."""

from base64 import b64encode
from typing import Any

from markupsafe import Markup

from routesolar.report import text
from routesolar.report.page_parts import asset, page_templates, policy
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.names import printable

_UNDEFINED = "-"


def decision_html(report: DecisionReport, night_png: bytes) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing.

    `night_png` is the chart in the colours of a dark screen.
    """
    styles = [asset("page.css"), asset("decision.css")]
    values = decision_values(report, styles, script="") | {"night": b64encode(night_png).decode()}
    return page_templates().get_template("decision.html").render(values)


def decision_values(report: DecisionReport, styles: list[str], script: str) -> dict[str, Any]:
    """Return what the template of every decision asks for; columns without any value are left out."""
    columns = [
        (name, cells)
        for name, *cells in zip(report.header, *report.cells, strict=True)
        if set(cells) != {_UNDEFINED}
    ]
    return {
        "policy": policy(script, styles),
        "styles": [Markup(style) for style in styles],
        "script": Markup(script),
        "title": printable(report.title),
        "answer": printable(report.answer),
        "remarks": [printable(remark) for remark in report.remarks],
        "chart": b64encode(report.chart_png).decode(),
        "chart_words": printable(report.chart_words),
        "header": [name for name, _ in columns],
        "rows": [
            [printable(cell) for cell in row] for row in zip(*(cells for _, cells in columns), strict=True)
        ],
        "warnings": [printable(warning) for warning in report.warnings],
        "cautions": text.CAUTIONS,
        "software": printable(report.software),
    }
