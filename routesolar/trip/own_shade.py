"""A shade of one's own: what is left of the light, measured or modelled elsewhere."""

from dataclasses import dataclass

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, length_of, lock_fields
from routesolar.trip.noun import Noun
from routesolar.trip.ranges import check_arrays


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class OwnShade(Noun):
    """What trees, hills and houses together leave of the light on each of n segments, 0 to 1; arrays (n,).

    `beam_transmittance_frac` is the mean over a segment of what is left of the beam; light from around the sun
    goes with it. `sky_view_frac` is the share of the rest of the sky's light that reaches a panel, the same for
    every panel. `lit_frac` is the beam's mean weighted by itself, which tells how uneven the light is: 1 where
    segments are in full sun or full shade by turns (a house's shadow), the transmittance itself where light is
    dappled alike everywhere (trees); None is the latter, which costs more.
    The shade is taken as certain: intervals hold only the sky. Its loss is that of "canopy"; a roof over the
    road (a tunnel) stays dark whatever is said here and counts as "terrain".
    Raises UsageError for values that are not numbers from 0 to 1, or lengths that differ.
    """

    beam_transmittance_frac: FloatArray
    sky_view_frac: FloatArray
    lit_frac: FloatArray | None = None

    def __post_init__(self) -> None:
        n = (length_of(self.beam_transmittance_frac, "beam_transmittance_frac"),)
        names = ("beam_transmittance_frac", "sky_view_frac", *(() if self.lit_frac is None else ("lit_frac",)))
        lock_fields(self, dict.fromkeys(names, n))
        check_arrays(self, names)
        if self.lit_frac is not None and np.any(self.lit_frac < self.beam_transmittance_frac - 1e-9):
            raise UsageError(
                "lit_frac is less than beam_transmittance_frac, but a mean weighted by itself never is; "
                "leave it out, or give 1 where full sun and full shade take turns"
            )

    @property
    def count(self) -> int:
        """Number of segments n."""
        return len(self.beam_transmittance_frac)
