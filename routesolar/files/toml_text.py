"""Trip files and rig files written from what they say, so that they read back the same."""

import json
from collections.abc import Callable, Mapping
from math import inf, isinf, isnan, nextafter
from typing import Any

import numpy as np

from routesolar.files.stated import Stated
from routesolar.trip.rig import Rig
from routesolar.trip.route import LegsBy, LegsEvery, Stop, Stretch
from routesolar.trip.surroundings import Trees

_OTHERWISE = {"from_m", "to_m", "canopy_cover_frac", "roofed"}  # written under keys of other names
_OF_A_STRETCH = tuple(name for name in Stretch.__dataclass_fields__ if name not in _OTHERWISE)


def trip_text(stated: Stated, files: Mapping[str, Any]) -> str:
    """Return the text of a trip file; `files` holds the keys that name files, as they are to stand there."""
    height, width, legs = stated.canopy_height, stated.road_width, stated.legs
    top: dict[str, Any] = dict(files) | {
        "depart": None if stated.depart is None else stated.depart.isoformat(" "),
        "speed": stated.speed_mps if isinstance(stated.speed_mps, str) else _unit(stated.speed_mps, "m/s"),
        "distance": _unit(stated.distance_m, "m"),
        "drive_from": None if stated.drive_from_s is None else _clock(stated.drive_from_s),
        "hours_a_day": stated.hours_a_day,
        "legs": legs.value if isinstance(legs, LegsBy) else _legs(legs),
        "step_m": stated.step_m,
        "tz": stated.time_zone,
        "forecast": stated.forecast,
        "air_c": stated.air_c,
        "wind_mps": stated.wind_mps,
        **_cover(stated.canopy_cover_frac),
        "canopy_height_m": None if isinstance(height, str) else height,
        "road_width_m": None if isinstance(width, str) else width,
        "road_width": width if isinstance(width, str) else None,
        "drive_side": stated.drive_side,
        "season": stated.season,
        "units": stated.units,
        "also": ",".join(stated.also) or None,
        "strict": stated.strict or None,
    }
    if not stated.sky_spans:
        top["sky"] = stated.sky
    trees = _trees(stated) | {"leaf_type": top.pop("leaf_type", None)}
    blocks = [_lines(top), *(_block("[[stop]]", _stop(stop)) for stop in stated.stops)]
    for pace in stated.paces:
        said = _between(pace.from_m, pace.to_m) | {"speed": _unit(pace.speed_mps, "m/s")}
        blocks.append(_block("[[pace]]", said | {"road_width_m": pace.road_width_m}))
    blocks += [_block("[[surroundings]]", _stretch(stretch)) for stretch in stated.stretches]
    if stated.sky_spans and stated.sky is not None:
        blocks.append(_block("[[sky]]", {"sky": stated.sky}))
    for span in stated.sky_spans:
        clock = {"from": _clock(span.from_clock_s), "to": _clock(span.to_clock_s)}
        blocks.append(_block("[[sky]]", clock | {"sky": span.name}))
    blocks.append(_block("[trees]", trees))
    return "\n".join(block for block in blocks if block)


def rig_text(rig: Rig) -> str:
    """Return the text of a rig file."""
    blocks = [_block("[vehicle]", {"name": rig.name, "roof_height_m": rig.roof_height_m})]
    for panel in rig.panels:
        said = _fields(panel)
        said["aim_every"] = _unit(said.pop("aim_every_s"), "s")
        blocks.append(_block("[[panel]]", said))
    blocks += [_block("[[roof_box]]", _fields(box)) for box in rig.roof_boxes]
    controller = _fields(rig.controller)
    controller.pop("efficiency_frac" if rig.controller.efficiency_curve else "efficiency_curve")
    blocks.append(_block("[controller]", controller))
    losses = ("soiling_frac", "mismatch_frac", "wiring_frac")
    blocks.append(_block("[losses]", {name: getattr(rig, name) for name in losses}))
    if rig.battery is not None:
        blocks.append(_block("[battery]", _fields(rig.battery)))
    if rig.alternator is not None:
        blocks.append(_block("[alternator]", _fields(rig.alternator)))
    for load in rig.loads:
        said = {"name": load.name, "power_w": load.power_w, "when": load.when, "keep": load.keep}
        blocks.append(_block("[[load]]", said | {"reserve_soc_frac": load.reserve_soc_frac}))
    return "\n".join(blocks)


def _stop(stop: Stop) -> dict[str, Any]:
    minutes = (
        None if stop.duration_s is None else _undone(stop.duration_s, stop.duration_s / 60, lambda m: m * 60)
    )
    return {
        "at": stop.at,
        "minutes": minutes,
        "until": stop.until,
        "heading_deg": stop.heading_deg,
        "roofed": stop.roofed or None,
        **_cover(stop.canopy_cover_frac),
        "canopy_height_m": stop.canopy_height_m,
        "road_width_m": stop.road_width_m,
    }


def _stretch(stretch: Stretch) -> dict[str, Any]:
    said = _between(stretch.from_m, stretch.to_m) | _cover(stretch.canopy_cover_frac)
    said |= {name: getattr(stretch, name) for name in _OF_A_STRETCH}
    return said | {"roofed": stretch.roofed}


def _trees(stated: Stated) -> dict[str, Any]:
    said: dict[str, Any] = {"crown_transmittance_frac": stated.crown_transmittance_frac}
    if stated.trees is not None:
        usual, habit = _fields(Trees()), _fields(stated.trees)
        said |= {name: value for name, value in habit.items() if value != usual[name]}
    return said


def _fields(noun: Any) -> dict[str, Any]:
    return {name: getattr(noun, name) for name in noun.__dataclass_fields__}


def _legs(legs: LegsEvery | None) -> str | None:
    if legs is None:
        return None
    if legs.distance_m is None:
        return _unit(legs.driving_s, "s")
    return _unit(_undone(legs.distance_m, legs.distance_m / 1000, lambda km: km * 1000), "km")


def _between(from_m: float, to_m: float) -> dict[str, Any]:
    return {"from": _unit(from_m, "m"), "to": _unit(to_m, "m")}


def _cover(share: float | None) -> dict[str, float]:
    """Return a cover in percent, or as a share where no percentage gives it to the last digit."""
    if share is None:
        return {}
    percent = _undone(share, share * 100, lambda number: number / 100)
    return {"canopy_cover_pct": percent} if percent / 100 == share else {"canopy_cover_frac": share}


def _undone(wanted: float, near: float, done: Callable[[float], float]) -> float:
    """Return the number near another that, with the reader's arithmetic, gives the wanted one exactly."""
    around = (near, nextafter(near, inf), nextafter(near, -inf))
    return next((number for number in around if done(number) == wanted), near)


def _clock(clock_s: float) -> str:
    minutes = round(clock_s / 60)
    return f"{minutes // 60:02}:{minutes % 60:02}"


def _unit(value: float | None, unit: str) -> str | None:
    if value is None:
        return None
    return f"{np.format_float_positional(value, trim='-')}{unit}"


def _block(head: str, said: Mapping[str, Any]) -> str:
    lines = _lines(said)
    return f"{head}\n{lines}" if lines else ""


def _lines(said: Mapping[str, Any]) -> str:
    return "".join(f"{key} = {_value(value)}\n" for key, value in said.items() if _is_said(value))


def _is_said(value: Any) -> bool:
    return not (value is None or value == () or (isinstance(value, float) and (isinf(value) or isnan(value))))


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, tuple | list):
        return f"[{', '.join(map(_value, value))}]"
    return repr(value.item() if hasattr(value, "item") else value)
