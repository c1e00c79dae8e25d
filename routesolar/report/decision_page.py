"""page.html of a decision: the answer, its chart, its table; self-contained and without script."""

from base64 import b64encode
from functools import cache

import jinja2
from markupsafe import Markup

from routesolar.report import text
from routesolar.report.page import asset, page_templates, policy
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.names import printable


def decision_html(report: DecisionReport) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing."""
    styles = [asset("page.css"), asset("decision.css")]
    return _template().render(
        policy=policy("", styles),
        styles=[Markup(style) for style in styles],
        title=printable(report.title),
        answer=printable(report.answer),
        remarks=[printable(remark) for remark in report.remarks],
        chart=b64encode(report.chart_png).decode(),
        chart_words=printable(report.chart_words),
        header=report.header,
        rows=[[printable(cell) for cell in row] for row in report.cells],
        warnings=[printable(warning) for warning in report.warnings],
        cautions=text.CAUTIONS,
        software=printable(report.software),
    )


@cache
def _template() -> jinja2.Template:
    return page_templates().from_string(asset("decision.html"))
