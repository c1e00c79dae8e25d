"""What shade leaves of the light along a drive: of the beam, of the sky, and on panels that face any way."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from routesolar.physics import kernel_arrays
from routesolar.physics.clear_radiance import clear_view_frac
from routesolar.physics.dome import direction_weight
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.wanted import still_wanted


class SkyLeft(NamedTuple):
    """What is left of each part of the sky in each of u seasons, (u, n, 20, 12), means over segments.

    Directions are those of physics.dome: azimuths from the heading, elevations upwards. `season` (d or 1,) says
    which of the tables a departure has.
    """

    transmittance_frac: FloatArray
    season: IntArray

    def view_frac(
        self, normal: FloatArray, heading_deg: ArrayLike, weight: FloatArray | None = None
    ) -> FloatArray:
        """Return the share of the panels' own dome left open, (d or 1, n), for normals (d or 1, n, 3).

        `weight` is what directions count for normals that are the same for all departures, where it is known.
        """
        heading = np.atleast_1d(np.asarray(heading_deg, float))
        if self.transmittance_frac.shape[1:] == (1, 1, 1):
            return np.full((1, len(heading)), self.transmittance_frac.item())
        if len(normal) == 1:
            weight = direction_weight(normal[0], heading) if weight is None else weight
            views = [_dome_view_frac(table, weight) for table in self.transmittance_frac]
            return np.stack(views)[self.season]
        season = np.broadcast_to(self.season, len(normal))
        pairs = zip(season, normal, strict=True)
        weights = ((self.transmittance_frac[s], direction_weight(turn, heading)) for s, turn in pairs)
        return np.stack([_dome_view_frac(*each) for each in weights])

    def clear_view_frac(
        self,
        normal: FloatArray,
        heading_deg: ArrayLike,
        sun_azimuth_deg: FloatArray,
        sun_apparent_elevation_deg: FloatArray,
        weight: FloatArray | None = None,
    ) -> FloatArray:
        """Return the share left to panels of a cloudless sky's diffuse light, (d or 1, n), for suns (d, n).

        `weight` is as in `view_frac`.
        """
        heading = np.atleast_1d(np.asarray(heading_deg, float))
        if self.transmittance_frac.shape[1:] == (1, 1, 1):
            return np.full((1, len(heading)), self.transmittance_frac.item())
        suns = sun_azimuth_deg - heading, sun_apparent_elevation_deg
        departures = np.arange(len(sun_azimuth_deg))
        season = np.broadcast_to(self.season, len(departures))
        turn = np.broadcast_to(np.arange(len(normal)), len(departures))
        left = np.empty(sun_azimuth_deg.shape)
        for table, which in sorted(set(zip(season.tolist(), turn.tolist(), strict=True))):
            still_wanted()
            alike = departures[(season == table) & (turn == which)]
            counts = direction_weight(normal[which], heading) if weight is None else weight
            left[alike] = clear_view_frac(
                self.transmittance_frac[table], counts, *(values[alike] for values in suns)
            )
        return left

    def views_frac(
        self, normals: FloatArray, heading_deg: ArrayLike, suns: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray]:
        """Return what each face, normals (f, d or 1, n, 3), is left of an even dome and of a cloudless sky.

        Both are (f, d or 1, n); suns' azimuths and heights are (d, n).
        """
        even, clear = [], []
        for normal in normals:
            told = self.transmittance_frac.shape[1:] != (1, 1, 1) and len(normal) == 1
            weight = (
                direction_weight(normal[0], np.atleast_1d(np.asarray(heading_deg, float))) if told else None
            )
            even.append(self.view_frac(normal, heading_deg, weight))
            clear.append(self.clear_view_frac(normal, heading_deg, *suns, weight))
        return np.stack(even), np.stack(clear)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shade:
    """What is left of the beam, (d, n), and of the sky; both are means over segments.

    `lit_frac` (d, n) is what is left of the beam around a place that it reaches, the power mean by which uneven
    light costs what it costs point by point. Where all of a segment is alike it equals the mean. The beam is
    NaN at night where trees or terrain had to be looked at.
    """

    beam_transmittance_frac: FloatArray
    lit_frac: FloatArray
    sky: SkyLeft

    def __post_init__(self) -> None:
        for values in (self.beam_transmittance_frac, self.lit_frac, *self.sky):
            values.setflags(write=False)

    def on(
        self, normals: FloatArray, heading_deg: ArrayLike, suns: tuple[FloatArray, FloatArray]
    ) -> kernel_arrays.ShadeOnFaces:
        """Return the shade on faces of these normals, (f, d or 1, n, 3), suns' azimuths and heights (d, n)."""
        views, clear = self.sky.views_frac(normals, heading_deg, suns)
        return kernel_arrays.ShadeOnFaces(self.beam_transmittance_frac, self.lit_frac, views, clear, clear)


def _dome_view_frac(sky_transmittance_frac: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the share of a panel's dome left open, (n,), of a sky (n, 20, 12), by directions' weight."""
    seen = np.einsum("nae,nae->n", sky_transmittance_frac, weight)
    view: FloatArray = seen / weight.sum(axis=(1, 2))
    return view
