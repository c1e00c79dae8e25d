"""page.html of a decision: the answer, its chart, its table; self-contained and without script."""

from base64 import b64encode
from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from routesolar.report import text
from routesolar.report.page_parts import asset, page_templates, policy
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.names import printable

_UNDEFINED = "-"


def chart_page_html(
    report: DecisionReport,
    charts: tuple[str, str],
    kind: str,
    key_rows: Sequence[tuple[str, str]],
    signs: Sequence[tuple[str, str]] = (),
    drawings: Sequence[tuple[str, str]] = (),
) -> str:
    """Return a page of one chart, laid out for wide and for narrow screens, the same for the same report.

    `key_rows` are colours with their labels, `signs` kinds that the style sheet colours, `drawings` further
    pictures with their captions. It asks the network for nothing.
    """
    styles = [asset("page.css"), asset("decision.css")]
    values = decision_values(report, styles, script="")
    return (
        page_templates()
        .get_template("charted.html")
        .render(
            values
            | {
                "charts": Markup("".join(charts)),
                "kind": kind,
                "key_rows": key_rows,
                "signs": signs,
                "drawings": [(Markup(drawing), caption) for drawing, caption in drawings],
            }
        )
    )


def _labels(header: Sequence[str]) -> str:
    """Return the style that writes each column's name above its values where rows are blocks."""
    rules = (
        f'.rows td:nth-child({number})::before {{ content: "{_quoted(name)}"; }}'
        for number, name in enumerate(header, 1)
    )
    return f"@media screen and (max-width: 960px) {{ {' '.join(rules)} }}"


def _quoted(name: str) -> str:
    """Return words as they may stand within a string of CSS: all but letters, digits and spaces by number."""
    return "".join(one if one.isalnum() or one == " " else f"\\{ord(one):x} " for one in name)


def decision_values(report: DecisionReport, styles: list[str], script: str) -> dict[str, Any]:
    """Return what the template of every decision asks for; columns without any value are left out."""
    columns = [
        (name, cells)
        for name, *cells in zip(report.header, *report.cells, strict=True)
        if set(cells) != {_UNDEFINED}
    ]
    styles = [*styles, _labels([name for name, _ in columns])]
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
        "rests_on": printable(report.rests_on),
        "assumptions": [(subject, printable(sentence)) for subject, sentence in report.assumptions],
        "warnings": [printable(warning) for warning in report.warnings],
        "cautions": text.CAUTIONS,
        "software": printable(report.software),
    }
