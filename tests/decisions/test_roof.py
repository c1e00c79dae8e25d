"""How many panels fit a roof."""

from itertools import combinations

import pytest

from routesolar.decisions.roof import GAP_M, Offer, fit_roof
from routesolar.errors import UsageError


def fit(roof, offer, gap_m=0.0):
    return fit_roof(*roof, [Offer(*offer)], gap_m)[0]


@pytest.mark.parametrize(
    ("roof", "panel", "gap_m", "along", "across", "mixed"),
    [
        ((3.0, 1.0), (1.0, 1.0), 0.0, 3, 3, 3),
        ((3.0, 1.0), (1.0, 1.0), 0.02, 2, 2, 2),  # three panels and two gaps are longer than the roof
        ((3.04, 1.0), (1.0, 1.0), 0.02, 3, 3, 3),
        ((2.0, 1.0), (1.0, 2.0), 0.0, 0, 1, 1),
        ((5.0, 3.0), (3.0, 2.0), 0.0, 1, 2, 2),
        ((5.0, 5.0), (3.0, 2.0), 0.0, 2, 2, 4),  # the pinwheel's four, and one square left in the middle
        ((3.0, 3.0), (2.0, 1.0), 0.0, 3, 3, 4),
        ((0.9, 0.9), (1.0, 0.5), 0.0, 0, 0, 0),
    ],
)
def test_counts_worked_out_by_hand(roof, panel, gap_m, along, across, mixed):
    found = fit(roof, (100.0, *panel), gap_m)
    assert (len(found.along), len(found.across), len(found.mixed)) == (along, across, mixed)


def test_panels_lie_on_the_roof_and_keep_their_gap():
    roof = (4.3, 1.95)
    for places in (lambda f: f.along, lambda f: f.across, lambda f: f.mixed):
        found = places(fit(roof, (100.0, 1.2, 0.54), GAP_M))
        assert found
        for place in found:
            assert place.along_m >= 0 and place.along_m + place.length_m <= roof[0] + 1e-9
            assert place.across_m >= 0 and place.across_m + place.width_m <= roof[1] + 1e-9
            assert sorted((place.length_m, place.width_m)) == pytest.approx([0.54, 1.2])
        for a, b in combinations(found, 2):
            apart_along = max(a.along_m, b.along_m) - min(a.along_m + a.length_m, b.along_m + b.length_m)
            apart_across = max(a.across_m, b.across_m) - min(a.across_m + a.width_m, b.across_m + b.width_m)
            assert max(apart_along, apart_across) >= GAP_M - 1e-9


def test_one_large_panel_beats_four_small_ones_on_a_narrow_roof():
    # Common practice, no source: the small ones' spacing makes their array too wide or too long.
    one_large, four_small = Offer(400.0, 2.0, 1.0), Offer(100.0, 1.0, 0.5)
    narrow = fit_roof(2.02, 1.01, [four_small, one_large])
    assert [result.offer for result in narrow] == [one_large, four_small]
    assert narrow[1].rated_w == 300.0
    wide = fit_roof(2.10, 1.10, [four_small, one_large])
    assert [result.rated_w for result in wide] == [400.0, 400.0]
    assert wide[0].offer is one_large  # of equal watts the fewest panels, with the fewest fixings and cables


@pytest.mark.parametrize("wrong", [(0.0, 1.0, 0.5, 0.02), (3.0, 1.0, -0.5, 0.02), (3.0, 1.0, 0.5, -0.1)])
def test_impossible_sizes_are_refused(wrong):
    roof_length_m, roof_width_m, panel_width_m, gap_m = wrong
    with pytest.raises(UsageError, match="give sizes above zero in metres"):
        fit_roof(roof_length_m, roof_width_m, [Offer(100.0, 1.0, panel_width_m)], gap_m)


def test_a_panel_in_the_wrong_unit_is_refused():
    with pytest.raises(UsageError, match=r"more than \d+ panels of 0\.12 x 0\.054 m"):
        fit_roof(4.0, 2.0, [Offer(100.0, 0.12, 0.054)])
