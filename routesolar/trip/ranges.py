"""What each quantity of the equipment may be: one table for the nouns and for the files that fill them."""

from collections.abc import Mapping
from math import inf, isnan
from types import MappingProxyType
from typing import NamedTuple


class Range(NamedTuple):
    """Smallest and largest usable value, and what to do about one outside."""

    low: float
    high: float
    advice: str


_SHARE = "1 is all of it"
_POSITION = "metres from the middle of the roof"
RANGES: Mapping[str, Range] = MappingProxyType(
    {
        "rated_w": Range(1.0, 100_000.0, "give the watts at 1000 W/m2 and 25 C from the panel's label"),
        "length_m": Range(0.05, 30.0, "give metres, not millimetres"),
        "width_m": Range(0.05, 30.0, "give metres, not millimetres"),
        "height_m": Range(0.01, 10.0, "give metres above the roof"),
        "above_roof_m": Range(0.0, 10.0, "give metres above the roof"),
        "forward_m": Range(-30.0, 30.0, _POSITION),
        "right_m": Range(-10.0, 10.0, _POSITION),
        "roof_height_m": Range(0.1, 10.0, "give metres above the road"),
        "temperature_coefficient_pct_per_c": Range(-1.0, 0.0, "write a loss of 0.35 % per C as -0.35"),
        "tilt_deg": Range(0.0, 90.0, "0 lies flat on the roof, 90 stands upright"),
        "facing_deg": Range(-360.0, 360.0, "clockwise from the nose: 90 leans to the right, 180 backwards"),
        "curvature_deg": Range(0.0, 120.0, "the whole bend from one side edge to the other"),
        "bypass_blocks": Range(1, 100, "the cell strings with a bypass diode of their own; often 3"),
        "aim_every_s": Range(1.0, 86_400.0, "between a second and a day"),
        "efficiency_frac": Range(0.3, 1.0, "no device gives more than it takes; write 97 % as 0.97"),
        "max_input_w": Range(1.0, inf, "leave the key out for no limit"),
        "max_input_a": Range(0.1, inf, "leave the key out for no limit"),
        "start_up_w": Range(0.0, 1_000.0, "the watts below which the controller sleeps"),
        "soiling_frac": Range(0.0, 0.9, _SHARE),
        "wiring_frac": Range(0.0, 0.9, _SHARE),
        "albedo_frac": Range(0.0, 1.0, _SHARE),
        "capacity_wh": Range(1.0, 1e7, "watt-hours are amp-hours times volts: 100 Ah at 12.8 V are 1280"),
        "voltage_v": Range(3.0, 1_000.0, "the voltage while charging, 13.6 in a 12 V system"),
        "start_soc_frac": Range(0.0, 1.0, _SHARE),
        "reserve_soc_frac": Range(0.0, 0.99, _SHARE),
        "max_charge_w": Range(1.0, 1e7, "the battery's own limit in watts"),
        "round_trip_frac": Range(0.3, 1.0, "what comes out over what went in; write 94 % as 0.94"),
        "taper_from_soc_frac": Range(0.1, 0.999, "from where full charge power is no longer taken"),
        "cold_limit_c": Range(-60.0, 30.0, "below it nothing is charged"),
        "temperature_c": Range(-60.0, 80.0, "where the battery stands"),
        "self_discharge_frac_per_month": Range(0.0, 0.5, "a share of the capacity; write 3 % as 0.03"),
        "parasitic_w": Range(0.0, 1_000.0, "what the battery's own electronics draw day and night"),
        "charge_w": Range(1.0, 1e5, "leave [alternator] out if the engine does not charge"),
        "power_w": Range(0.0, 1e5, "what the load draws while it is on; a load never gives power"),
    }
)


def complaint(key: str, value: float) -> str:
    """Return what is wrong with a value under a key of RANGES, or "" if nothing is."""
    low, high, advice = RANGES[key]
    if not isnan(value) and low <= value <= high:
        return ""
    span = f"at least {low:.9g}" if high == inf else f"from {low:.9g} to {high:.9g}"
    return f"should be {span}; {advice}"


def check_ranges(noun: object, names: tuple[str, ...]) -> None:
    """Raise ValueError that lists every one of the named fields outside its range; None passes."""
    values = {name: getattr(noun, name) for name in names if name in RANGES}
    wrong = [
        f"{name} is {value:g}: {complaint(name, value)}"
        for name, value in values.items()
        if value is not None and complaint(name, value)
    ]
    if wrong:
        raise ValueError("; ".join(wrong))
