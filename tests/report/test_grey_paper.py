"""On black-and-white paper lightness tells areas apart, lightness or dashes tell lines, contrast letters.

Relative luminance as IEC 61966-2-1 and WCAG 2.1 define it; CIE lightness as in CIE 15.
"""

import re
from itertools import combinations, pairwise

import pytest

from routesolar.report.colours import LOSS, NO_LOSS, NOTHING, POWER, is_dark
from routesolar.report.page_parts import asset

APART = 9.0  # of CIE lightness, 0 to 100, between areas side by side: judgement, no source


def luminance(colour):
    encoded = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in encoded]
    return sum(share * one for share, one in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def lightness(colour):
    y = luminance(colour)
    return 116 * y ** (1 / 3) - 16 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.fixture(scope="module")
def ink():
    """The colours of paper, by name."""
    css = asset("page.css")
    block = css[css.index("@media print {") :]
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})", block[: block.index("}")]))
    return {
        name: f"#{''.join(2 * x for x in one[1:])}" if len(one) == 4 else one for name, one in found.items()
    }


@pytest.mark.parametrize("colours", [[NOTHING, *POWER.colours(7)], [NO_LOSS, *LOSS.colours(5)]])
def test_each_class_is_lighter_or_darker_than_its_neighbours(colours):
    steps = [lightness(after) - lightness(before) for before, after in pairwise(colours)]
    assert all(step > 0 for step in steps) or all(step < 0 for step in steps)
    assert min(map(abs, steps[1:])) > APART
    assert abs(steps[0]) > 4  # what is nothing lies beyond the ramp's end


def test_driving_and_standing_lost_and_gained_differ_in_lightness(ink):
    for one, other in (("driving", "stopped"), ("loss", "paper"), ("open", "loss"), ("water", "ink")):
        assert abs(lightness(ink[one]) - lightness(ink[other])) > 1.8 * APART, (one, other)


def test_curves_of_one_axis_differ_in_dashes_or_lightness(ink):
    css = asset("page.css")

    def look(kind):
        rule = re.search(rf"\.still-chart\) \.{kind} \{{([^}}]*)\}}", css).group(1)
        colour = re.search(r"stroke: var\(--([\w-]+)\)", rule).group(1)
        return lightness(ink[colour]), "dasharray" in rule

    for axis in (("power", "open"), ("soc", "soc-poor", "reserve")):
        for one, other in combinations(axis, 2):
            (light, dashed), (another, too) = look(one), look(other)
            assert dashed != too or abs(light - another) > 2 * APART, (one, other)


def test_the_lines_of_compared_routes_differ_in_dashes():
    rules = re.findall(r"\.route-(\d) \{ stroke: [^;]*;([^}]*)\}", asset("decision.css"))
    assert [number for number, _ in rules] == list("123456")
    assert len({dashes.strip() for _, dashes in rules}) == 6


@pytest.mark.parametrize("colour", [NOTHING, *POWER.colours(7)])
def test_figures_stand_out_from_every_class(colour):
    # WCAG 2.1, 1.4.3: 4.5 to 1.
    assert contrast(colour, "#ffffff" if is_dark(colour) else "#000000") >= 4.5


def test_words_stand_out_from_paper(ink):
    for words in ("ink", "quiet"):
        for ground in ("paper", "ground"):
            assert contrast(ink[words], ink[ground]) >= 4.5
