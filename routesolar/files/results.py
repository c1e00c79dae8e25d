"""result.json: one drive's harvest as JSON, for programs."""

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from routesolar.trip.basis import Basis
from routesolar.trip.clock import iso_local
from routesolar.trip.harvest import Harvest, LoadResult
from routesolar.trip.harvest_report import HarvestReport
from routesolar.trip.route import SourceFile
from routesolar.trip.stretches_used import used_along

# Everything a leg and the totals have in common, in the order written.
SUMS = (
    "distance_km duration_s mean_w peak_w energy_wh energy_low_wh energy_mid_wh energy_high_wh "
    "open_sky_wh clear_sky_wh shade_loss_frac cloud_loss_frac alternator_wh load_wh "
    "shortfall_wh idle_wh charge_loss_wh battery_cold_wh battery_full_wh soc_start_frac soc_end_frac"
).split()
_ALONE = [f"energy_{cause}_{end}_wh" for cause in ("clouds", "shade") for end in ("low", "high")]
_AFTER = SUMS.index("energy_high_wh") + 1
TOTALS = [*SUMS[:_AFTER], *_ALONE, *SUMS[_AFTER:]]
# Results of features that a run may do without: left out where no leg and no total has them.
_OPTIONAL = (
    "energy_low_wh energy_mid_wh energy_high_wh energy_clouds_low_wh energy_clouds_high_wh "
    "energy_shade_low_wh energy_shade_high_wh "
    "alternator_wh load_wh shortfall_wh idle_wh charge_loss_wh battery_cold_wh battery_full_wh "
    "soc_start_frac soc_end_frac lasts_prob"
).split()

DAY_MOMENTS = "start end dawn dusk lowest".split()
DAY_SUN = "energy_wh energy_low_wh energy_high_wh driving_wh stopped_wh".split()
DAY_BATTERY = (
    "alternator_wh load_wh used_wh shortfall_wh idle_wh charge_loss_wh battery_cold_wh battery_full_wh "
    "soc_start_frac soc_dawn_frac soc_dusk_frac soc_end_frac lowest_soc_frac lowest_soc_poor_frac "
    "lasts_prob"
).split()

BATTERY = (
    "capacity_wh reserve_soc_frac stored_wh drawn_wh cold_s coldest_c heater_wh load_share_frac "
    "lowest_soc_frac lowest_soc_poor_frac full_prob short_prob short_s shortfall_poor_wh alternator_needed_w "
    "alternator_needed_wh"
).split()
_LOAD = ("reserve_soc_frac load_wh shortfall_wh shortfall_poor_wh off_s off_poor_s lasts_prob").split()
BATTERY_MOMENTS = "first_full first_reserve first_short first_short_poor lowest".split()


def result_json(report: HarvestReport) -> str:
    """Return the text of result.json: full floats, null where undefined, only ASCII characters."""
    return json.dumps(result(report), indent=1, allow_nan=False) + "\n"


def result(report: HarvestReport) -> dict[str, Any]:
    """Return the harvest as plain values, keyed as result.json has them."""
    harvest = report.harvest
    segments = harvest.segments
    zone = segments.time_zone
    return {
        "schema": "routesolar.harvest/2",
        "software": report.software,
        "rests_on": report.rests_on,
        "stated": segments.stated,
        "inputs": input_rows((report.basis,)),
        "route": {
            "name": report.harvest.segments.route_name,
            "files": _files(report.harvest.segments.files),
            "distance_km": defined(harvest.totals.distance_km),
            "segments": segments.count,
        },
        "departure": iso_local(float(segments.departure_utc_s[0]), zone),
        "arrival": iso_local(float(segments.arrival_utc_s[0]), zone),
        "time_zone": zone,
        "sky": harvest.sky,
        "skies": _skies(report),
        "air": _air(report),
        "canopy": {
            "files": _files(report.basis.canopy.files),
            "data_frac": defined(report.basis.canopy.data_frac),
        },
        "surroundings": [
            stretch.row() for stretch in used_along(segments, report.basis.road, report.basis.trees)
        ],
        "totals": _totals(report),
        "legs": leg_rows(report),
        "days": day_rows(harvest),
        "hours": _hours(report),
        "notes": list(harvest.notes),
        "warnings": list(harvest.warnings),
    } | _battery(report)


def leg_rows(report: HarvestReport) -> list[dict[str, Any]]:
    """Return one mapping a leg, keyed and ordered as result.json and legs.csv have them."""
    zone = report.harvest.segments.time_zone
    rows = report.harvest.legs
    keys = _given(SUMS, (*rows, report.harvest.totals))
    return [
        {
            "leg": leg.leg,
            "name": leg.name,
            "kind": leg.kind,
            "start": iso_local(leg.start_utc_s, zone),
            "end": iso_local(leg.end_utc_s, zone),
        }
        | _values(leg, keys)
        for leg in rows
    ]


def day_rows(harvest: Harvest) -> list[dict[str, Any]]:
    """Return one mapping a local calendar day, keyed and ordered as result.json and days.csv have them."""
    zone, battery = harvest.segments.time_zone, harvest.charge is not None
    moments = DAY_MOMENTS if battery else DAY_MOMENTS[:-1]
    keys = [*DAY_SUN, *DAY_BATTERY] if battery else DAY_SUN
    return [
        {"date": row.date, "weekday": row.weekday}
        | {name: _local(getattr(row, f"{name}_utc_s"), zone) for name in moments}
        | _values(row, keys)
        for row in harvest.days
    ]


def _local(utc_s: float | None, zone: str) -> str | None:
    return None if utc_s is None else iso_local(utc_s, zone)


def defined(value: float | None) -> float | None:
    """Return the number, or None where it is missing, NaN or infinite."""
    return None if value is None or not math.isfinite(value) else float(value)


def _totals(report: HarvestReport) -> dict[str, Any]:
    harvest = report.harvest
    totals: dict[str, Any] = _values(harvest.totals, _given(TOTALS, (*harvest.legs, harvest.totals)))
    totals |= {"driving_wh": defined(harvest.driving_wh), "stopped_wh": defined(harvest.stopped_wh)}
    if harvest.losses_wh:
        totals["rated_clear_wh"] = defined(harvest.rated_clear_wh)
        totals["losses"] = {name: defined(loss_wh) for name, loss_wh in harvest.losses_wh.items()}
        totals["battery_wh"] = defined(harvest.battery_wh)
    return totals


def _battery(report: HarvestReport) -> dict[str, Any]:
    """Return the battery's answers under its own key; nothing where there is no battery."""
    charge, zone = report.harvest.charge, report.harvest.segments.time_zone
    if charge is None:
        return {}
    times = {name: getattr(charge, f"{name}_utc_s") for name in BATTERY_MOMENTS}
    told = {name: _local(at, zone) for name, at in times.items()} | _values(charge, BATTERY)
    return {"battery": told | {"loads": [_load(load, zone) for load in charge.loads]}}


def _load(load: LoadResult, zone: str) -> dict[str, Any]:
    """Return what becomes of one load."""
    return (
        {"name": load.name, "keep": load.keep}
        | _values(load, _LOAD)
        | {name: _local(getattr(load, f"{name}_utc_s"), zone) for name in ("first_off", "first_off_poor")}
    )


def _skies(report: HarvestReport) -> list[dict[str, Any]]:
    skies = report.harvest.skies
    keys = _given(["energy_wh", "energy_low_wh", "energy_high_wh"], skies)
    return [{"sky": sky.sky} | _values(sky, keys) for sky in skies]


def _air(report: HarvestReport) -> dict[str, Any]:
    """Return where the air temperature came from, and its range along the drive."""
    sky, weather, air_c = report.basis.sky, report.basis.sky.weather, report.harvest.air_c
    source = "usual" if sky.air_c is None else "said"
    if weather is not None and np.isfinite(weather.air_c).any():
        source = weather.name
    return {"source": source, "lowest_c": defined(air_c.min()), "highest_c": defined(air_c.max())}


def _hours(report: HarvestReport) -> list[dict[str, Any]]:
    hours = report.harvest.hours
    keys = _given(["driving_wh", "stopped_wh", "load_wh", "lasts_prob"], hours)
    zone = report.harvest.segments.time_zone
    return [{"start": iso_local(hour.start_utc_s, zone)} | _values(hour, keys) for hour in hours]


def _given(keys: Iterable[str], rows: Iterable[object]) -> list[str]:
    """Return the keys without those of features that were not asked for."""
    rows = tuple(rows)
    return [key for key in keys if key not in _OPTIONAL or any(getattr(row, key) is not None for row in rows)]


def _values(row: object, keys: Iterable[str]) -> dict[str, float | None]:
    return {key: defined(getattr(row, key)) for key in keys}


def input_rows(bases: Iterable[Basis]) -> list[dict[str, str]]:
    """Return the files that answers were computed from, each once: what it told of, name and SHA-256."""
    bases = tuple(bases)
    read = dict.fromkeys((what, file.name, file.sha256) for basis in bases for what, file in basis.inputs)
    credit = next((basis.attribution for basis in bases if basis.attribution), "")
    return [
        {"what": what, "name": name, "sha256": sha256}
        | ({"attribution": credit} if what == "map" and credit else {})
        for what, name, sha256 in read
    ]


def _files(files: Iterable[SourceFile]) -> list[Mapping[str, str]]:
    return [{"name": file.name, "sha256": file.sha256} for file in files]
