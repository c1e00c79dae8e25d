"""Where the rated power goes: one bar a loss in SVG, each beginning where the one before ended."""

from html import escape

from routesolar.report.text import battery_loss_rows, loss_rows
from routesolar.report.units import energy, readable
from routesolar.trip.harvest_report import HarvestReport

_WIDTH, _LEFT, _RIGHT, _ROW = 360, 152, 50, 21


def losses_svg(report: HarvestReport) -> str:
    """Return the bars as an SVG element, coloured by CSS; empty if the losses were not computed."""
    rated_wh, rows = report.harvest.rated_clear_wh, loss_rows(report)
    if not rated_wh or not rows:
        return ""
    bars = [("rated, clear open sky", "whole", 0.0, rated_wh)]
    label = f"Losses from {energy(rated_wh)} rated"
    level_wh = highest_wh = rated_wh
    for after, losses in (("delivered", rows), ("taken by loads, battery", battery_loss_rows(report))):
        if not losses:
            continue
        for name, loss_wh in losses:
            kind = "gain" if loss_wh < 0 else "lost"
            bars.append((name, kind, min(level_wh, level_wh - loss_wh), abs(loss_wh)))
            level_wh -= loss_wh
            highest_wh = max(highest_wh, level_wh)
        bars.append((after, "whole", 0.0, level_wh))
        label += f" to {energy(level_wh)} {after}"
    parts = [f'<svg class="losses" viewBox="0 0 {_WIDTH} {_ROW * len(bars)}" role="img" aria-label="{label}">']
    per_wh = (_WIDTH - _LEFT - _RIGHT) / highest_wh
    for number, (name, kind, from_wh, wide_wh) in enumerate(bars):
        x, width, y = _LEFT + from_wh * per_wh, max(wide_wh * per_wh, 0.6), number * _ROW
        sign = {"whole": "", "lost": "−", "gain": "+"}[kind]
        parts.append(
            f'<text class="end" x="{_LEFT - 10}" y="{y + 14}">{escape(name)}</text>'
            f'<rect class="{kind}" x="{x:.1f}" y="{y + 3}" width="{width:.1f}" height="{_ROW - 6}"/>'
            f'<text x="{x + width + 6:.1f}" y="{y + 14}">{sign}{readable(wide_wh)}</text>'
        )
    return "".join([*parts, "</svg>"])
