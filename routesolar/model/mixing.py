"""Days of which any may come, taken as one: their skies mixed into one sky, their energies into one spread."""

from collections.abc import Iterable, Sequence

import numpy as np

from routesolar.physics.bands import EnergyMoments
from routesolar.trip.arrays import FloatArray
from routesolar.trip.sky import SkyStates

_ALIKE_FRAC = 1e-6  # days that are all alike still span a little, for a distribution to stand on


def mixed_states(days: Iterable[SkyStates]) -> SkyStates:
    """Return the two states that equally likely skies mix to; of one sky the same.

    Shares are weighted by how often their state holds, so that what is linear in the light keeps its mean
    exactly; the standard deviations hold the differences between the days too. Air and wind are means.
    """
    rest = iter(days)
    first = next(rest)
    count, sums = 1, _weighted(first)
    for day in rest:
        count += 1
        sums = {name: sums[name] + value for name, value in _weighted(day).items()}
    return first if count == 1 else _of_sums(sums, count)


def mixed_moments(days: Sequence[EnergyMoments], told_frac: FloatArray) -> EnergyMoments:
    """Return the moments of an energy that is that of any of the days with equal chance.

    `told_frac` is how much of a day's own doubt its data take away: where 1, the days' means are all that may
    come; where 0, each is as unsure as it says (law of total variance).
    """
    mean, variance, low, high = (np.stack(field) for field in zip(*days, strict=True))
    least = told_frac * mean.min(axis=0) + (1 - told_frac) * low.min(axis=0)
    most = told_frac * mean.max(axis=0) + (1 - told_frac) * high.max(axis=0)
    spread = mean.var(axis=0) + (1 - told_frac) * variance.mean(axis=0)
    return EnergyMoments(mean.mean(axis=0), spread, least, np.maximum(most, least * (1 + _ALIKE_FRAC)))


def _weighted(day: SkyStates) -> dict[str, FloatArray]:
    """Return what adds up over days."""
    unobscured, from_rad = day.sun_out_prob, np.radians(day.wind_from_deg)
    obscured = 1 - unobscured
    return {
        "unobscured": unobscured,
        "unobscured_index": unobscured * day.unobscured_index,
        "unobscured_beam_index": unobscured * day.unobscured_beam_index,
        "unobscured_square": unobscured * (day.unobscured_index**2 + day.unobscured_sd**2),
        "obscured_index": obscured * day.obscured_index,
        "obscured_square": obscured * (day.obscured_index**2 + day.obscured_sd**2),
        "air_c": day.air_c,
        "wind_mps": day.wind_mps,
        "east": np.sin(from_rad),
        "north": np.cos(from_rad),
    }


def _of_sums(sums: dict[str, FloatArray], count: int) -> SkyStates:
    unobscured = np.maximum(sums["unobscured"], 1e-9)
    obscured = np.maximum(count - sums["unobscured"], 1e-9)
    unobscured_index, obscured_index = sums["unobscured_index"] / unobscured, sums["obscured_index"] / obscured
    return SkyStates(
        sun_out_prob=sums["unobscured"] / count,
        unobscured_index=unobscured_index,
        unobscured_beam_index=sums["unobscured_beam_index"] / unobscured,
        obscured_index=obscured_index,
        unobscured_sd=np.sqrt(np.maximum(sums["unobscured_square"] / unobscured - unobscured_index**2, 0.0)),
        obscured_sd=np.sqrt(np.maximum(sums["obscured_square"] / obscured - obscured_index**2, 0.0)),
        air_c=sums["air_c"] / count,
        wind_mps=sums["wind_mps"] / count,
        wind_from_deg=np.degrees(np.arctan2(sums["east"], sums["north"])) % 360,
    )
