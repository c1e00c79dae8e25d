"""Panels on a roof, drawn to scale from above: the front of the vehicle at the right."""

from routesolar.decisions.roof import RoofFit
from routesolar.report.svg_parts import box, line, picture, words
from routesolar.report.units import power

_WIDTH, _RIM = 340.0, 14.0
_TALLEST = 260.0


def roof_svgs(fits: tuple[RoofFit, ...]) -> list[tuple[str, str]]:
    """Return a drawing and its caption for each panel that fits."""
    return [(_roof_svg(fit), _caption(fit)) for fit in fits if fit.mixed]


def _caption(fit: RoofFit) -> str:
    offer = fit.offer
    size = f"{offer.length_m:g} x {offer.width_m:g} m"
    return f"{len(fit.mixed)} x {offer.rated_w:g} W ({size}): {power(fit.rated_w)}"


def _roof_svg(fit: RoofFit) -> str:
    scale = min((_WIDTH - 2 * _RIM - 40) / fit.roof_length_m, _TALLEST / fit.roof_width_m)
    length, width = scale * fit.roof_length_m, scale * fit.roof_width_m
    left, top = _RIM, 22.0
    parts = [box("roof", (left, top), (length, width))]
    for place in fit.mixed:
        corner = left + scale * place.along_m, top + scale * place.across_m
        parts.append(box("panel", corner, (scale * place.length_m, scale * place.width_m)))
    middle, tip = top + width / 2, left + length + 18
    parts += [
        words(left + length / 2, 15, f"{fit.roof_length_m:g} m", "middle"),
        line("nose", (tip - 8, middle - 8), (tip, middle), (tip - 8, middle + 8)),
        words(left + length + 10, middle - 14, "front"),
        words(left, top + width + 16, f"{fit.roof_width_m:g} m wide"),
    ]
    label = f"The roof from above, front at the right: {_caption(fit)}"
    return picture("roof-plan", (_WIDTH, width + 46), label, parts)
