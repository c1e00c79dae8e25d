"""What each quantity may be: one table for the nouns and for the files that fill them."""

from collections.abc import Mapping
from dataclasses import fields
from math import inf, isnan
from numbers import Real
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from routesolar.errors import UsageError
from routesolar.trip.arrays import FloatArray, length_of, numbers


class Range(NamedTuple):
    """Smallest and largest usable value, and what to do about one outside."""

    low: float
    high: float
    advice: str


_SHARE = "1 is all of it"
_POSITION = "metres from the middle of the roof"
_LATITUDE = Range(-90.0, 90.0, "degrees, north positive; latitude comes before longitude")
_LONGITUDE = Range(-180.0, 360.0, "degrees, east positive")
_HEIGHT = Range(-1_000.0, 10_000.0, "metres above sea level")
_MOMENT = Range(-1e11, 1e11, "seconds since 1970 UTC, not milliseconds")
_COVER = Range(0.0, 1.0, "a share of the ground; write 60 % as 0.60")
_TREES = Range(0.1, 150.0, "metres; no tree is taller, and no trees are a cover of 0")
_LIGHT = Range(-50.0, 2_000.0, "W/m2")
_COMPASS = Range(-360.0, 720.0, "degrees clockwise from north")
_LENGTH = Range(0.0, 1e8, "metres")
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
        "mismatch_frac": Range(0.0, 0.9, _SHARE),
        "wiring_frac": Range(0.0, 0.9, _SHARE),
        "age_years": Range(0.0, 60.0, "years since the panel was new"),
        "ageing_frac_per_year": Range(0.0, 0.2, "a share of the rating; write 0.5 % a year as 0.005"),
        "albedo_frac": Range(0.0, 1.0, _SHARE),
        "capacity_wh": Range(1.0, 1e7, "watt-hours are amp-hours times volts: 100 Ah at 12.8 V are 1280"),
        "voltage_v": Range(3.0, 1_000.0, "the voltage while charging, 13.6 in a 12 V system"),
        "start_soc_frac": Range(0.0, 1.0, _SHARE),
        "reserve_soc_frac": Range(0.0, 0.99, _SHARE),
        "max_charge_w": Range(1.0, 1e7, "the battery's own limit in watts"),
        "round_trip_frac": Range(0.3, 1.0, "what comes out over what went in; write 94 % as 0.94"),
        "taper_from_soc_frac": Range(0.1, 0.999, "the charge above which full charge power is no longer taken"),
        "cold_limit_c": Range(-60.0, 30.0, "below it the battery is not charged"),
        "temperature_c": Range(-60.0, 80.0, "how warm the battery is"),
        "cabin_c": Range(-20.0, 40.0, "the least warmth of a heated interior"),
        "heater_w": Range(1.0, 10_000.0, "the watts of the battery's own heater"),
        "heated_to_c": Range(-10.0, 40.0, "what the battery's own heater keeps"),
        "self_discharge_frac_per_month": Range(0.0, 0.5, "a share of the capacity; write 3 % as 0.03"),
        "parasitic_w": Range(0.0, 1_000.0, "what the battery's own electronics draw day and night"),
        "charge_w": Range(1.0, 1e5, "leave [alternator] out if the engine does not charge"),
        "keep": Range(1, 99, "1 is kept on longest"),
        "power_w": Range(0.0, 1e5, "what the load draws while it is on; a load never gives power"),
    }
)
# Of the route, what stands along it, and the sky; a height or a length here is not one on the roof.
ALONG: Mapping[str, Range] = MappingProxyType(
    {
        **dict.fromkeys(("latitude_deg", "middle_latitude_deg", "end_latitude_deg"), _LATITUDE),
        **dict.fromkeys(("longitude_deg", "middle_longitude_deg", "end_longitude_deg"), _LONGITUDE),
        **dict.fromkeys(("elevation_m", "middle_elevation_m"), _HEIGHT),
        **dict.fromkeys(("time_utc_s", "start_utc_s", "departure_utc_s"), _MOMENT),
        "duration_s": Range(0.0, 4e9, "seconds"),
        **dict.fromkeys(("heading_deg", "wind_from_deg"), _COMPASS),
        "grade_frac": Range(-2.0, 2.0, "rise over run; write 8 % as 0.08"),
        "speed_mps": Range(0.0, 1e6, "metres per second"),
        **dict.fromkeys(("length_m", "along_m"), _LENGTH),
        **dict.fromkeys(("cover_frac", "uniform_cover_frac", "canopy_cover_frac"), _COVER),
        **dict.fromkeys(("height_m", "uniform_height_m", "default_height_m", "canopy_height_m"), _TREES),
        "road_width_m": Range(0.0, 1_000.0, "metres between the trees, seen from above"),
        "lane_offset_m": Range(-30.0, 30.0, "metres from the road's middle"),
        "crown_base_frac": Range(0.0, 0.95, "where crowns begin, as a share of the height"),
        "crown_slenderness": Range(0.1, 10.0, "half the height of a crown over half its width"),
        "height_spread_frac": Range(0.0, 0.5, "standard deviation of the heights over their mean"),
        "evergreen_frac": Range(0.0, 1.0, _SHARE),
        **dict.fromkeys(("crown_transmittance_frac", "standing_transmittance_frac"), Range(0.0, 1.0, _SHARE)),
        "width_factor": Range(0.0, 100.0, "1 leaves the road as wide as it is"),
        "cover_shift": Range(-1.0, 1.0, "a share of the ground"),
        "crowns_factor": Range(0.0, 100.0, "1 leaves the trees as dense as they are"),
        "horizon_deg": Range(-90.0, 90.0, "degrees above horizontal"),
        **dict.fromkeys(("slope_east_frac", "slope_north_frac"), Range(-100.0, 100.0, "rise over run")),
        "cloud_frac": Range(0.0, 1.0, "write 40 % as 0.40"),
        "global_index": Range(0.0, 1.6, "1 is a clear sky; write 80 % as 0.80"),
        "beam_index": Range(0.0, 3.0, "1 is the clear sky's beam; write 80 % as 0.80"),
        **dict.fromkeys(("beam_transmittance_frac", "sky_view_frac", "lit_frac"), Range(0.0, 1.0, _SHARE)),
        **dict.fromkeys(("ghi_wm2", "dni_wm2", "dhi_wm2"), _LIGHT),
        "air_c": Range(-90.0, 60.0, "degrees Celsius"),
        "wind_mps": Range(0.0, 115.0, "metres per second"),
        **dict.fromkeys(("from_clock_s", "to_clock_s"), Range(0.0, 172_800.0, "seconds after midnight")),
    }
)


def complaint(key: str, value: float, table: Mapping[str, Range] = RANGES) -> str:
    """Return what is wrong with a value under a key of a table, or "" if nothing is."""
    low, high, advice = table[key]
    if not isnan(value) and low <= value <= high:
        return ""
    span = f"at least {low:.9g}" if high == inf else f"from {low:.9g} to {high:.9g}"
    return f"should be {span}; {advice}"


def check_ranges(noun: object, names: tuple[str, ...], table: Mapping[str, Range] = RANGES) -> None:
    """Raise UsageError that lists every one of the named fields outside its range; None passes.

    Numbers of any kind become floats where these are meant: loops are compiled anew for each kind they meet.
    """
    values = {name: getattr(noun, name) for name in names if name in table}
    wrong = [
        f"{name} is {_shown(value)}: {said}"
        for name, value in values.items()
        if value is not None and (said := _complaint_of(name, value, table))
    ]
    if wrong:
        raise UsageError("; ".join(wrong))
    for name, value in values.items():
        if value is not None and _field_types(type(noun))[name] is not int:
            object.__setattr__(noun, name, float(value))


def _field_types(kind: type) -> dict[str, object]:
    return {field.name: field.type for field in fields(kind)}


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float | int) else repr(value)


def _complaint_of(name: str, value: object, table: Mapping[str, Range]) -> str:
    """Return what is wrong with a value of any kind, or "" if nothing is."""
    return complaint(name, float(value), table) if isinstance(value, Real) else "should be a number"


def check_arrays(
    noun: object,
    names: tuple[str, ...],
    unknown: tuple[str, ...] = (),
    table: Mapping[str, Range] = ALONG,
) -> None:
    """Raise UsageError for the first value outside its range of a table in the named arrays.

    NaN passes in those named in `unknown`.
    """
    for name in names:
        values = np.asarray(getattr(noun, name))
        low, high, _ = table[name]
        if values.size == 0 or (values.min() >= low and values.max() <= high):  # false also of NaN
            continue
        wrong = (values < low) | (values > high) | (np.isnan(values) & (name not in unknown))
        if wrong.any():
            place = np.unravel_index(int(np.argmax(wrong)), values.shape)
            where = ", ".join(str(int(index)) for index in place)
            value, count = float(values[place]), int(wrong.sum())
            many = f" (and {count - 1} more)" if count > 1 else ""
            raise UsageError(f"{name}[{where}] is {value:g}{many}: {complaint(name, value, table)}")


class _Points(NamedTuple):
    latitude_deg: FloatArray
    longitude_deg: FloatArray


def check_points(latitude_deg: FloatArray, longitude_deg: FloatArray) -> int:
    """Return how many points there are; UsageError unless each has a latitude and a longitude in range."""
    count = length_of(latitude_deg, "latitude_deg")
    if length_of(longitude_deg, "longitude_deg") != count:
        raise UsageError(
            f"there are {count} latitudes and {len(longitude_deg)} longitudes; give one of each per point"
        )
    points = _Points(numbers(latitude_deg, "latitude_deg"), numbers(longitude_deg, "longitude_deg"))
    check_arrays(points, points._fields)
    return count
