"""How far the trees along a road may be from what is stated."""

from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, IntArray, lock_fields
from routesolar.trip.noun import Noun

# One standard deviation of the road's opening, as a share of it: where nothing is said, where it is said of
# the whole trip, and where it is said stretch by stretch. Judgement, as are those of the cover: we know of no
# survey of drivers' estimates.
WIDTH_ASSUMED_SD, WIDTH_SAID_SD, WIDTH_BY_STRETCH_SD = 0.25, 0.15, 0.10
# Of the cover, in shares of the ground: said of the whole trip, stretch by stretch, or read from a raster.
COVER_SAID_SD, COVER_BY_STRETCH_SD, COVER_RASTER_SD = 0.08, 0.05, 0.05
# Of what a crown lets through, where that itself is said.
CROWNS_SAID_SD = 0.02
# Of the crowns that a height raster alone shows, as a share of those met on a way to the sun: shade of open
# ground under suns of 30 to 15 degrees means 6 to 10 % fewer crowns by laser returns than by the raster, with
# the smallest and largest balls around returns 17 % less and more (tests/physics/test_lidar_heights.py).
# Measured with cells of 1 m; the same for cells of up to 5 m is judgement.
HEIGHTS_SD = 0.10
# Of the crowns of single trees that a map shows or a survey counts: their widths and heights are told to a
# fifth or so, and often assumed. Judgement.
STANDING_SD = 0.20
# Of the exponent by which uneven shade costs a panel (physics.partial_shade), as a share of it: crowns half and
# twice as wide as usual double and halve it (a normal distribution's two standard deviations: .35), and a
# controller too slow for passing shadows makes it 1.8 times as large. Judgement; nothing measured was found.
UNEVEN_SD = 0.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class CanopyDoubt(Noun):
    """Standard deviations of what is stated of trees; each error is one and the same all along a road.

    `road_width_sd_frac` (n or 1,) is a share of the width. `cover_sd_frac` (n or 1,) belongs to covers that are
    numbers and `raster_cover_sd_frac` to every cell of a raster, in shares of the ground;
    `crown_transmittance_sd_frac` (d or 1, n or 1) to what a crown lets through. The heights of single crowns
    leave the width in no doubt; `heights_sd_frac` stands for their cover, and for single trees of a map, as a
    share of the crowns met.
    `uneven_sd_frac` is of how much uneven shade costs a panel, the same on every road. `rests_on` says what
    width, cover and crowns rest on: where two roads have the same words, the error is the same on both. By
    default all is taken as said of the whole trip.
    """

    road_width_sd_frac: FloatArray = field(default_factory=lambda: np.full(1, WIDTH_SAID_SD))
    cover_sd_frac: FloatArray = field(default_factory=lambda: np.full(1, COVER_SAID_SD))
    raster_cover_sd_frac: float = COVER_RASTER_SD
    heights_sd_frac: float = HEIGHTS_SD
    uneven_sd_frac: float = UNEVEN_SD
    crown_transmittance_sd_frac: FloatArray = field(default_factory=lambda: np.full((1, 1), 0.04))
    rests_on: tuple[str, str, str] = ("said", "said", "in leaf")

    def __post_init__(self) -> None:
        names = ("road_width_sd_frac", "cover_sd_frac", "crown_transmittance_sd_frac")
        lock_fields(self, {name: np.shape(getattr(self, name)) for name in names})

    @classmethod
    def none(cls) -> Self:
        """Return no doubt at all."""
        return cls(
            road_width_sd_frac=np.zeros(1),
            cover_sd_frac=np.zeros(1),
            raster_cover_sd_frac=0.0,
            heights_sd_frac=0.0,
            uneven_sd_frac=0.0,
            crown_transmittance_sd_frac=np.zeros((1, 1)),
        )

    def check_fits(self, count: int) -> None:
        """Raise UsageError where the doubt is of another number of segments, negative or missing."""
        for name in ("road_width_sd_frac", "cover_sd_frac", "crown_transmittance_sd_frac"):
            values = getattr(self, name)
            if values.shape[-1] not in (1, count) or not np.all(values >= 0):
                raise UsageError(
                    f"{name} of the canopy's doubt has shape {values.shape} for {count} segments; give "
                    "standard deviations of 0 or more, one for all or one per segment"
                )
        for name in ("raster_cover_sd_frac", "heights_sd_frac", "uneven_sd_frac"):
            if not getattr(self, name) >= 0:
                raise UsageError(f"{name} of the canopy's doubt is {getattr(self, name)}; give 0 or more")

    def at(self, rows: IntArray) -> Self:
        """Return the doubt at segments of these numbers."""
        names = ("road_width_sd_frac", "cover_sd_frac", "crown_transmittance_sd_frac")
        values = {name: getattr(self, name) for name in names}
        return replace(
            self, **{name: one if one.shape[-1] == 1 else one[..., rows] for name, one in values.items()}
        )

    @property
    def causes(self) -> tuple[bool, bool, bool, bool]:
        """Whether width, cover (or the crowns of heights), crowns and unevenness are in doubt anywhere."""
        return (
            bool(np.any(self.road_width_sd_frac > 0)),
            bool(self.moves_cover or self.heights_sd_frac > 0),
            bool(np.any(self.crown_transmittance_sd_frac > 0)),
            self.uneven_sd_frac > 0,
        )

    @property
    def moves_cover(self) -> bool:
        """Whether the cover of any stand is in doubt."""
        return bool(np.any(self.cover_sd_frac > 0) or self.raster_cover_sd_frac > 0)
