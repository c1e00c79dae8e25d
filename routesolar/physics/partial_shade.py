"""What uneven light costs a panel beyond the light itself: cells in series follow the weakest.

Hard shade (a roof box) is counted by the bypass blocks it touches. Under trees the shade is in motion
and mottled: the extra loss is largest when as much of the panel is lit as shaded, and vanishes in full
sun and in full shade.
"""

from routesolar.physics.compiled import compiled

# Extra loss of mottled light times the number of bypass blocks. With the usual three blocks a small loss
# of light costs 1.3 times itself; published shading impact factors of single strings are 1-3 (Deline
# 2010, 2013; from memory). Judgement.
MOTTLED = 0.9


@compiled
def hard_shade_frac(shaded_frac: float, shaded_blocks: int, total_blocks: int) -> float:
    """Return the share of the beam's power that is left under hard shade.

    Martinez-Moreno, Munoz & Lorenzo 2010, Sol. Energy Mater. Sol. Cells 94:2298, for one module:
    (1 - shaded area) (1 - shaded blocks / (all blocks + 1)).
    """
    return (1.0 - shaded_frac) * (1.0 - shaded_blocks / (total_blocks + 1.0))


@compiled
def even_frac(transmittance_frac: float, total_blocks: int) -> float:
    """Return the beam's power under moving, mottled shade as a share of what its mean light would give.

    1 - (0.9 / blocks) (1 - T): times the light T, the extra loss goes with T (1 - T), the chance that two
    places of the panel differ. NaN gives NaN.
    """
    return 1.0 - MOTTLED / total_blocks * (1.0 - transmittance_frac)
