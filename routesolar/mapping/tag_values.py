"""What a map's tags mean: lengths, levels, speeds. What makes no sense is counted and left out."""

import re
from collections import Counter

from routesolar.trip.mapped import Tags

_NUMBER = re.compile(r"\s*(-?\d{1,9}(?:[.,]\d{1,6})?)\s*(.{0,8}?)\s*", re.ASCII)
_FEET = re.compile(r"\s*(\d{1,4})\s*'\s*(?:(\d{1,2}(?:\.\d{1,3})?)\s*\"?)?\s*", re.ASCII)
_METRES = {
    "": 1.0,
    "m": 1.0,
    "meter": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "ft": 0.3048,
    "feet": 0.3048,
    "km": 1e3,
}
_MPS = {"": 1 / 3.6, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6, "mph": 0.44704, "knots": 0.514444}


def length_m(tags: Tags, key: str, low: float, high: float, faults: Counter[str]) -> float | None:
    """Return a tag's length in metres (also feet and inches), None where it is absent or makes no sense."""
    text = tags.get(key)
    if text is None:
        return None
    feet = _FEET.fullmatch(text)
    if feet is not None:
        return _within(key, (float(feet[1]) + float(feet[2] or 0.0) / 12.0) * 0.3048, low, high, faults)
    return _within(key, _quantity(text, _METRES), low, high, faults)


def count_of(tags: Tags, key: str, low: float, high: float, faults: Counter[str]) -> float | None:
    """Return a tag's bare number, None where it is absent or makes no sense."""
    text = tags.get(key)
    return None if text is None else _within(key, _quantity(text, {"": 1.0}), low, high, faults)


def speed_mps(tags: Tags, faults: Counter[str]) -> float | None:
    """Return the speed limit in m/s; None where there is none, or it is a word whose speed the law tells."""
    text = tags.get("maxspeed")
    if text is None or ":" in text or text in ("none", "signals", "variable", "walk"):
        return None
    return _within("maxspeed", _quantity(text, _MPS), 5 / 3.6, 160 / 3.6, faults)


def _quantity(text: str, units: dict[str, float]) -> float | None:
    match = _NUMBER.fullmatch(text)
    unit = None if match is None else units.get(match[2].lower())
    return None if match is None or unit is None else float(match[1].replace(",", ".")) * unit


def _within(key: str, value: float | None, low: float, high: float, faults: Counter[str]) -> float | None:
    if value is None or not low <= value <= high:
        faults[f"values of {key} that make no sense"] += 1
        return None
    return value
