"""A drive along its local time as a still chart in SVG: for paper, and for pages whose script does not run."""

import numpy as np

from routesolar.report.colours import NOTHING, POWER, Classes, classes
from routesolar.report.sun_times import dark_on
from routesolar.report.svg_parts import Span, box, line, picture, round_values, words
from routesolar.report.ticks import clock_ticks
from routesolar.trip.arrays import FloatArray
from routesolar.trip.harvest import Harvest

_WIDTH, _LEFT, _RIGHT, _TOP = 450, 44, 24, 20
_WATTS, _STRIP, _FOOT = 112, 42, 22
_COLUMNS = 380  # stretches that the watts are drawn in at most


def drive_svg(harvest: Harvest) -> str:
    """Return watts in their classes, open sky, stops and nights, the sun's height and the battery."""
    segments = harvest.segments
    start_s, end_s = float(segments.departure_utc_s[0]), float(segments.arrival_utc_s[0])
    across = Span(low=start_s, high=end_s, start=_LEFT, end=_WIDTH - _RIGHT)
    highest = max(float(harvest.open_sky_w.max(initial=0)), float(harvest.power_w.max(initial=0)), 1.0)
    up = Span(low=0, high=highest * 1.05, start=_TOP + _WATTS, end=_TOP)
    strips = 1 if harvest.charge is None else 2
    foot = _TOP + _WATTS + strips * _STRIP
    edges_s = np.linspace(start_s, end_s, min(_COLUMNS, segments.count) + 1)
    parts = [
        *_behind(harvest, across, foot),
        *_grid(harvest, across, up, foot, highest),
        *_area(harvest, across, up, edges_s),
        _steps("open", across, up, edges_s, _mean(harvest, harvest.open_sky_w, edges_s)),
        _steps("power", across, up, edges_s, _mean(harvest, harvest.power_w, edges_s)),
        *_strip(
            "sun", "sun’s height", (across, _TOP + _WATTS + _STRIP), edges_s,
            np.clip(_mean(harvest, harvest.sun_elevation_deg, edges_s), 0, None), (90, "°"),
        ),
    ]  # fmt: skip
    if harvest.charge is not None:
        percent = 100 * _mean(harvest, harvest.charge.soc_frac, edges_s)
        parts += _strip("soc", "battery", (across, foot), edges_s, percent, (100, " %"))
        reserve = Span(low=0, high=100, start=foot, end=foot - _STRIP + 16)
        y = reserve.at(100 * harvest.charge.reserve_soc_frac)
        parts.append(line("reserve", (_LEFT, y), (_WIDTH - _RIGHT, y)))
    label = f"Expected watts along the drive, at most {float(harvest.power_w.max(initial=0)):.0f} W"
    return picture("drive-chart", (_WIDTH, foot + _FOOT), label, parts)


def _mean(harvest: Harvest, values: FloatArray, edges_s: FloatArray) -> FloatArray:
    """Return the mean of values of segments over each span between edges."""
    segments = harvest.segments
    ends_s = segments.start_utc_s[0] + segments.duration_s[0]
    sums = np.append(0.0, np.cumsum(np.nan_to_num(values) * segments.duration_s[0]))
    within = np.interp(edges_s, np.append(segments.start_utc_s[0, 0], ends_s), sums)
    mean: FloatArray = np.diff(within) / np.maximum(np.diff(edges_s), 1e-9)
    return mean


def _behind(harvest: Harvest, across: Span, foot: float) -> list[str]:
    """Return nights, and stops with their numbers and those of the legs above."""
    parts = [
        box("night", (across.at(start), _TOP), (across.at(end) - across.at(start), foot - _TOP))
        for start, end in dark_on(harvest.segments)
    ]
    taken = -1e9
    for leg in harvest.legs:
        left, right = across.at(leg.start_utc_s), across.at(leg.end_utc_s)
        if leg.kind == "stop":
            parts.append(box("stop", (left, _TOP), (right - left, foot - _TOP)))
        if (left + right) / 2 - 9 > taken:
            parts.append(words((left + right) / 2, 13, str(leg.leg), "middle"))
            taken = (left + right) / 2 + 9
    return parts


def _grid(harvest: Harvest, across: Span, up: Span, foot: float, highest: float) -> list[str]:
    parts = [words(_LEFT - 7, 13, "W", "end")]
    for watts in round_values(highest, 4):
        if watts <= up.high:
            y = up.at(watts)
            parts += [line("grid" if watts else "base", (_LEFT, y), (_WIDTH - _RIGHT, y))]
            parts.append(words(_LEFT - 7, y + 4, f"{watts:g}", "end"))
    for utc_s, label in clock_ticks(across.low, across.high, harvest.segments.time_zone, 5):
        parts += [line("grid", (across.at(utc_s), _TOP), (across.at(utc_s), foot + 4))]
        parts.append(words(across.at(utc_s), foot + 16, label, "middle"))
    return parts


def _area(harvest: Harvest, across: Span, up: Span, edges_s: FloatArray) -> list[str]:
    """Return what is expected, filled in its classes."""
    scale: Classes = classes(float(harvest.power_w.max(initial=0)), POWER)
    mean_w = _mean(harvest, harvest.power_w, edges_s)
    x = [across.at(edge) for edge in edges_s.tolist()]
    boxes: dict[int, list[str]] = {}
    for number, (watts, group) in enumerate(zip(mean_w.tolist(), scale.of(mean_w).tolist(), strict=True)):
        shape = f"M{x[number]:.1f} {up.start:.1f}V{up.at(watts):.1f}H{x[number + 1] + 0.3:.1f}V{up.start:.1f}Z"
        boxes.setdefault(group, []).append(shape)
    return [
        f'<path fill="{NOTHING if group < 0 else scale.colours[group]}" d="{"".join(shapes)}"/>'
        for group, shapes in boxes.items()
    ]


def _steps(kind: str, across: Span, up: Span, edges_s: FloatArray, values: FloatArray) -> str:
    path = "".join(
        f"{'L' if number else 'M'}{across.at(edges_s[number]):.1f} {up.at(value):.1f}"
        f"H{across.at(edges_s[number + 1]):.1f}"
        for number, value in enumerate(values.tolist())
    )
    return f'<path class="{kind}" d="{path}"/>'


def _strip(
    kind: str,
    title: str,
    place: tuple[Span, float],
    edges_s: FloatArray,
    values: FloatArray,
    top: tuple[float, str],
) -> list[str]:
    """Return a curve on an axis of its own from zero to its top, beneath the watts."""
    across, foot = place
    up = Span(low=0, high=top[0], start=foot, end=foot - _STRIP + 16)
    return [
        line("grid", (_LEFT, up.end), (_WIDTH - _RIGHT, up.end)),
        line("base", (_LEFT, foot), (_WIDTH - _RIGHT, foot)),
        words(_LEFT - 7, up.end + 4, f"{top[0]:g}{top[1]}", "end"),
        words(_LEFT - 7, foot + 2, f"0{top[1]}", "end"),
        words(_LEFT + 4, up.end - 3, title, "axis"),
        _steps(kind, across, up, edges_s, values),
    ]
