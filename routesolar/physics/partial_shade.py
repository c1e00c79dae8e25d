"""What uneven light costs a panel beyond the light itself: cells in series follow the weakest.

Hard shade (a roof box) is counted by the bypass blocks it touches. Under trees the shade is that of crowns,
larger than the panel: the sun's disc smears the gaps between leaves to spots of about a cell (a point 15 m away
throws 14 cm; Smith, Knapp & Reiners 1989, Ecology 70:1604), so what costs is a crown's outline crossing the
panel.
"""

from math import pi

from routesolar.physics.compiled import compiled, inlined
from routesolar.physics.elementary import power

# A block is a stripe along a panel of some 200 W, 1.30 by 0.80 m; the crown is that of a tree of 17 m of the
# usual habit. Both are typical sizes, not those of the panel and the wood at hand.
PANEL_LENGTH_M, PANEL_WIDTH_M, CROWN_RADIUS_M = 1.30, 0.80, 3.4


@compiled
def hard_shade_frac(shaded_frac: float, shaded_blocks: int, total_blocks: int) -> float:
    """Return the share of the beam's power that is left under hard shade.

    Martinez-Moreno, Munoz & Lorenzo 2010, Sol. Energy Mater. Sol. Cells 94:2298, for one module:
    (1 - shaded area) (1 - shaded blocks / (all blocks + 1)).
    """
    return (1.0 - shaded_frac) * (1.0 - shaded_blocks / (total_blocks + 1.0))


@inlined
def even_frac(transmittance_frac: float, total_blocks: int) -> float:
    """Return the beam's power under crowns as a share of what its mean light would give; NaN gives NaN.

    A block gives what its darkest cell gets; the tracker bypasses or follows it block by block. Where crowns
    stand at random and each lets a share through, a point gets T = exp(-a A) of its beam on average, A being
    the area of a crown; a block is darkened by every crown that touches it, so that A grows to
    A + U r + F for a convex block of perimeter U and area F (Steiner's formula for the Boolean model; Stoyan,
    Kendall & Mecke 1995, section 3.1, from memory). What is left is therefore T^(1 + U / (pi r) + F / A).

    Known error: a tracker too slow for a shadow that crosses in a tenth of a second loses what a panel of one
    block loses (at T .42: .31 instead of .19 of what arrives), crowns twice as wide halve the loss.
    """
    width_m = PANEL_WIDTH_M / total_blocks
    perimeter_m, area_m2 = 2.0 * (PANEL_LENGTH_M + width_m), PANEL_LENGTH_M * width_m
    touched = perimeter_m / (pi * CROWN_RADIUS_M) + area_m2 / (pi * CROWN_RADIUS_M**2)
    return power(transmittance_frac, touched)
