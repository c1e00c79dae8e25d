"""Where and when to pause: what a drive brings with one break, by the place of the break."""

from dataclasses import dataclass, field
from typing import Any

from routesolar.errors import UsageError
from routesolar.trip.clock import iso_local, to_local
from routesolar.trip.drawable import Drawable
from routesolar.trip.noun import Result

TRIFLE_FRAC = 0.02  # of the best's energy: less than any rig or road is known to
NOON_S = 12 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A break at one place: its time, what it brings itself, and what the whole drive brings with it.

    `heading_deg` is the best facing of tilted panels, found for the best break only; None is that of arrival.
    """

    name: str
    along_m: float
    latitude_deg: float
    longitude_deg: float
    start_utc_s: float
    end_utc_s: float
    break_wh: float
    energy_wh: float
    heading_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Breaks(Result):
    """The breaks of one drive, most energy first; equal ones in the order of travel.

    `noon` is the break that begins nearest to noon by the clock.
    """

    ranked: tuple[Break, ...]
    noon: Break
    time_zone: str
    sky: str
    title: str = ""
    warnings: tuple[str, ...] = ()
    drives: tuple[Drawable, ...] = field(default=(), repr=False)

    @property
    def best(self) -> Break:
        """The break with the most energy."""
        return self.ranked[0]

    @property
    def alike(self) -> tuple[Break, ...]:
        """The breaks, the best among them, that bring as much but for a trifle, in the order of travel."""
        least_wh = (1 - TRIFLE_FRAC) * self.best.energy_wh
        return tuple(sorted((one for one in self.ranked if one.energy_wh >= least_wh), key=_on_the_way))


def ranked_breaks(tried: list[Break], time_zone: str, sky: str) -> Breaks:
    """Return breaks of one drive ranked.

    Raises:
        UsageError: there is none, or the sun is down in all.
    """
    if not tried:
        raise UsageError(
            "no place for a break is passed in that time; give another --between, such as 10:00..16:00, or "
            "another --depart"
        )
    ranked = sorted(sorted(tried, key=_on_the_way), key=lambda one: -one.energy_wh)
    if ranked[0].energy_wh <= 0:
        raise UsageError(
            "the sun is down for the whole drive, so no break brings anything; give another --depart"
        )
    noon = min(ranked, key=lambda one: abs(_clock_s(one.start_utc_s, time_zone) - NOON_S))
    return Breaks(ranked=tuple(ranked), noon=noon, time_zone=time_zone, sky=sky)


def breaks_dict(result: Breaks) -> dict[str, Any]:
    """Return the result as result.json has it."""
    worst = result.ranked[-1]
    return {
        "schema": "routesolar.breaks/1",
        "sky": result.sky,
        "best_wh": result.best.energy_wh,
        "noon_wh": result.noon.energy_wh,
        "worst_wh": worst.energy_wh,
        "rows": breaks_rows(result),
        "warnings": list(result.warnings),
    }


def breaks_rows(result: Breaks) -> list[dict[str, Any]]:
    """Return a mapping a break, keyed and ordered as the file of rows has them."""
    return [
        {
            "rank": rank,
            "place": one.name,
            "along_km": one.along_m / 1000,
            "latitude_deg": one.latitude_deg,
            "longitude_deg": one.longitude_deg,
            "start": iso_local(one.start_utc_s, result.time_zone),
            "end": iso_local(one.end_utc_s, result.time_zone),
            "break_wh": one.break_wh,
            "energy_wh": one.energy_wh,
            "heading_deg": one.heading_deg,
        }
        for rank, one in enumerate(result.ranked, 1)
    ]


def _on_the_way(one: Break) -> float:
    return one.along_m


def _clock_s(utc_s: float, time_zone: str) -> float:
    local = to_local(utc_s, time_zone)
    return local.hour * 3600.0 + local.minute * 60.0 + local.second
