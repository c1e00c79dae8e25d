"""How quantities are shown: metric or imperial. Only words change; results stay as they are."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """Names and factors of what a reader is shown; temperatures go through `warmth`."""

    name: str
    distance: str
    distance_per_km: float
    speed: str
    height: str
    height_per_m: float


METRIC = Units(name="metric", distance="km", distance_per_km=1.0, speed="km/h", height="m", height_per_m=1.0)
# The international mile and foot are exactly 1.609344 km and 0.3048 m.
IMPERIAL = Units(
    name="imperial",
    distance="mi",
    distance_per_km=1 / 1.609344,
    speed="mph",
    height="ft",
    height_per_m=1 / 0.3048,
)


def distance(km: float, units: Units) -> str:
    """Return "42 km" or "26 mi"; one decimal below ten."""
    return f"{readable(km * units.distance_per_km)} {units.distance}"


def speed(mps: float, units: Units) -> str:
    """Return "80 km/h" or "50 mph"."""
    return f"{mps * 3.6 * units.distance_per_km:.0f} {units.speed}"


def height(m: float, units: Units) -> str:
    """Return "15 m" or "49 ft"; one decimal below ten."""
    return f"{readable(m * units.height_per_m)} {units.height}"


def warmth(celsius: float, units: Units) -> str:
    """Return "15 °C" or "59 °F"."""
    if units is IMPERIAL:
        return f"{celsius * 1.8 + 32:.0f} °F"
    return f"{celsius:.0f} °C"


def energy(wh: float) -> str:
    """Return "412 Wh", "3.2 Wh" or "12.4 kWh"."""
    return f"{readable(wh / 1000)} kWh" if abs(wh) >= 10_000 else f"{readable(wh)} Wh"


def power(w: float) -> str:
    """Return "146 W"; one decimal below ten."""
    return f"{readable(w)} W"


def percent(frac: float) -> str:
    """Return "18 %"."""
    return f"{100 * frac:.0f} %"


def duration(seconds: float) -> str:
    """Return "4 h 40 min", "35 min" or "50 s"."""
    if seconds < 59.5:
        return f"{seconds:.0f} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02d} min" if minutes else f"{hours} h"


def readable(value: float) -> str:
    """Return a number as people read it: one decimal below ten, whole above."""
    return f"{value:.0f}" if value == 0 or abs(value) >= 9.95 else f"{value:.1f}"
