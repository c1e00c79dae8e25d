"""Read quantities as people write them: a number and its unit, turned into SI units."""

import math
import re
from collections.abc import Mapping
from types import MappingProxyType

from routesolar.errors import UsageError
from routesolar.files.reading import printable

STRONGEST_WIND_MPS = 113.0  # strongest gust measured outside tornadoes (from memory: WMO, 1996)

_NUMBER = re.compile(r"\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([^\d\s].*)?", re.DOTALL)
_HOURS_AND_MINUTES = re.compile(r"\s*(\d+)\s*h\s*(\d{1,2})\s*(?:m|min)?\s*", re.IGNORECASE)

_SPEEDS = {"km/h": 1 / 3.6, "kmh": 1 / 3.6, "m/s": 1.0, "mph": 0.44704, "mi/h": 0.44704, "kn": 1852 / 3600}
_DURATIONS = {"s": 1.0, "min": 60.0, "m": 60.0, "h": 3600.0, "d": 86_400.0}
_LENGTHS = {"m": 1.0, "km": 1000.0, "mi": 1609.344, "ft": 0.3048}
_POWERS = {"w": 1.0, "kw": 1000.0}
_UNITS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {"speed": _SPEEDS, "duration": _DURATIONS, "length": _LENGTHS, "power": _POWERS}
)


def speed_mps(text: str, what: str = "speed") -> float:
    """Return a speed above zero in m/s: 80km/h, 50mph, 22m/s."""
    return _above_zero(_quantity(text, "speed", what, "80km/h"), text, what)


def wind_mps(text: str) -> float:
    """Return a wind speed in m/s, calm allowed: 3m/s, 10km/h, 0m/s."""
    value = _quantity(text, "speed", "wind", "3m/s")
    if value < 0:
        raise UsageError(f'wind is "{printable(text)}", which is below zero; give its speed, such as 3m/s')
    if value > STRONGEST_WIND_MPS:
        raise UsageError(f'wind is "{printable(text)}", which is beyond any wind on Earth; write it as 3m/s')
    return value


def duration_s(text: str, what: str = "duration") -> float:
    """Return a duration above zero in seconds: 45min, 1h30, 90s, 2h."""
    mixed = _HOURS_AND_MINUTES.fullmatch(text)
    if mixed and int(mixed[2]) < 60:
        return _above_zero(int(mixed[1]) * 3600.0 + int(mixed[2]) * 60.0, text, what)
    return _above_zero(_quantity(text, "duration", what, "45min"), text, what)


def length_m(text: str, what: str = "length", example: str = "42km") -> float:
    """Return a length in metres, zero allowed: 42km, 50m, 26mi."""
    value = _quantity(text, "length", what, example)
    if value < 0:
        raise UsageError(f'{what} is "{printable(text)}", which is below zero; write it as {example}')
    return value


def power_w(text: str, what: str = "panel") -> float:
    """Return a power above zero in W: 200W, 0.2kW."""
    return _above_zero(_quantity(text, "power", what, "200W"), text, what)


def temperature_c(text: str, what: str = "air") -> float:
    """Return a temperature in C: 15C, 59F, -5C."""
    number, unit = _parts(text, what, "15C")
    unit = unit.lstrip("°").casefold()
    if unit not in ("c", "f"):
        raise UsageError(f'{what} is "{printable(text)}": add C or F, such as 15C')
    celsius = number if unit == "c" else (number - 32) / 1.8
    if not -90 <= celsius <= 60:
        raise UsageError(
            f'{what} is "{printable(text)}", beyond any air temperature on Earth; give C or F, such as 15C'
        )
    return celsius


def percent_frac(text: str, what: str) -> float:
    """Return a share between 0 and 1 from a percentage: 60, 60%."""
    number, unit = _parts(text, what, "60")
    if unit not in ("", "%", "pct") or not 0 <= number <= 100:
        raise UsageError(f'{what} is "{printable(text)}": give percent between 0 and 100, such as 60')
    return number / 100


def is_quantity(text: str, kind: str) -> bool:
    """Tell whether a text is a number with a unit of this kind, so that it is not a name."""
    if kind == "duration" and _HOURS_AND_MINUTES.fullmatch(text):
        return True
    match = _NUMBER.fullmatch(text)
    return bool(match and (match[2] or "").strip().casefold() in _UNITS[kind])


def _quantity(text: str, kind: str, what: str, example: str) -> float:
    """Return a number in SI units; UsageError where the unit is missing or not of this kind."""
    number, unit = _parts(text, what, example)
    units = _UNITS[kind]
    if not unit:
        raise UsageError(f'{what} is "{printable(text)}" without a unit; write it as {example}')
    if unit.casefold() not in units:
        raise UsageError(
            f'{what} is "{printable(text)}": its unit is not one of {", ".join(units)}; write it as {example}'
        )
    return number * units[unit.casefold()]


def _parts(text: str, what: str, example: str) -> tuple[float, str]:
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise UsageError(f'{what} is "{printable(text)}", which is not a number with a unit; write {example}')
    number = float(match[1].replace(",", "."))
    if not math.isfinite(number):
        raise UsageError(f'{what} is "{printable(text)}", which is too large')
    return number, (match[2] or "").strip()


def _above_zero(value: float, text: str, what: str) -> float:
    if value <= 0:
        raise UsageError(f'{what} is "{printable(text)}"; it must be above zero')
    return value
