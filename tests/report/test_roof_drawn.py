"""The roof of `size --roof`, to scale: what fits is inside, and no panel lies on another."""

from itertools import combinations
from xml.etree import ElementTree

import pytest

from routesolar.decisions.roof import Offer, fit_roof
from routesolar.report.roof_drawn import roof_svgs

OFFERS = [Offer(200, 1.58, 0.70), Offer(100, 1.05, 0.55), Offer(400, 3.0, 2.0)]


def boxes(svg, kind):
    found = [one for one in ElementTree.fromstring(svg).iter("rect") if one.get("class") == kind]
    sides = [[float(one.get(name)) for name in ("x", "y", "width", "height")] for one in found]
    return [(x, y, x + width, y + height) for x, y, width, height in sides]


@pytest.mark.parametrize("roof", [(2.6, 1.4), (5.1, 2.05), (1.2, 2.4)])
def test_panels_lie_within_the_roof_and_beside_one_another(roof):
    fits = [fit for fit in fit_roof(*roof, OFFERS) if fit.mixed]
    for fit, (svg, caption) in zip(fits, roof_svgs(tuple(fits)), strict=True):
        ((left, top, right, bottom),) = boxes(svg, "roof")
        assert (right - left) / (bottom - top) == pytest.approx(roof[0] / roof[1], rel=0.01)
        panels = boxes(svg, "panel")
        assert len(panels) == len(fit.mixed) == int(caption.split(" x ")[0])
        for x0, y0, x1, y1 in panels:
            assert left - 0.2 <= x0
            assert x1 <= right + 0.2
            assert top - 0.2 <= y0
            assert y1 <= bottom + 0.2
        for one, other in combinations(panels, 2):
            assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


def test_a_panel_that_does_not_fit_is_not_drawn():
    assert len(roof_svgs(fit_roof(2.6, 1.4, OFFERS))) == 2
