"""The energy of every clock hour as bars in SVG, driving and standing apart."""

import numpy as np

from routesolar.report.clock_words import clock_or_date
from routesolar.report.colours import round_step
from routesolar.report.sun_times import dark_on
from routesolar.report.svg_parts import box
from routesolar.report.units import energy
from routesolar.trip.clock import to_local
from routesolar.trip.harvest import Harvest

_WIDTH, _HEIGHT, _LEFT, _RIGHT, _BOTTOM, _TOP = 360, 200, 40, 14, 26, 8


def hours_svg(harvest: Harvest) -> str:
    """Return the bars as an SVG element, coloured by CSS; empty if there are no hours."""
    if not harvest.hours:
        return ""
    sums = [hour.driving_wh + hour.stopped_wh for hour in harvest.hours]
    highest = max(*sums, *(hour.load_wh or 0.0 for hour in harvest.hours), 1e-9)
    step = round_step(highest / 4)
    top_wh = step * max(1, -(-highest // step))
    per_wh = (_HEIGHT - _BOTTOM - _TOP) / top_wh
    slot = (_WIDTH - _LEFT - _RIGHT) / len(harvest.hours)
    label = f"Energy of each clock hour: at most {energy(max(sums))}"
    parts = [f'<svg class="hours" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" aria-label="{label}">']
    ground = _HEIGHT - _BOTTOM
    parts += _nights(harvest, slot)
    for number in range(round(top_wh / step) + 1):
        y = ground - number * step * per_wh
        parts.append(
            f'<path class="graticule" d="M{_LEFT} {y:.1f}H{_WIDTH}"/>'
            f'<text class="end" x="{_LEFT - 6}" y="{y + 4:.1f}">{number * step:g}</text>'
        )
    for number, hour in enumerate(harvest.hours):
        x, width = _LEFT + (number + 0.12) * slot, 0.76 * slot
        y = ground
        for kind, wh in (("driving", hour.driving_wh), ("stopped", hour.stopped_wh)):
            y_top = y - wh * per_wh
            if wh > 0:
                size = f'width="{width:.1f}" height="{y - y_top:.1f}"'
                parts.append(f'<rect class="{kind}" x="{x:.1f}" y="{y_top:.1f}" {size}/>')
            y = y_top
        if hour.load_wh is not None:
            parts.append(f'<path class="load" d="M{x:.1f} {ground - hour.load_wh * per_wh:.1f}h{width:.1f}"/>')
    parts += [_tick(harvest, number, slot) for number in _labelled(harvest, slot)]
    return "".join([*parts, "</svg>"])


def _nights(harvest: Harvest, slot: float) -> list[str]:
    """Return the dark spans behind the bars."""
    starts_s = np.array([hour.start_utc_s for hour in harvest.hours])
    edges_s = np.append(starts_s, starts_s[-1] + 3600)
    places = _LEFT + slot * np.arange(len(edges_s))
    return [
        box("night", (x, _TOP), (end - x, _HEIGHT - _BOTTOM - _TOP))
        for x, end in (np.interp(span, edges_s, places).tolist() for span in dark_on(harvest.segments))
    ]


def _labelled(harvest: Harvest, slot: float) -> list[int]:
    """Return the hours that carry a label: round on the clock, or midnights, as many as have room."""
    shown = [to_local(hour.start_utc_s, harvest.segments.time_zone) for hour in harvest.hours]
    steps = (1, 2, 3, 6, 12, 24, 48, 24 * 7, 24 * 30)
    mixed = 58 if any(local.hour == 0 for local in shown) else 44  # dates between clock times are wider
    every = next(hours for hours in steps if hours * slot >= (mixed if hours < 24 else 66))
    since = shown[0].toordinal()
    return [
        number
        for number, local in enumerate(shown)
        if (24 * (local.toordinal() - since) + local.hour) % every == 0
    ]


def _tick(harvest: Harvest, number: int, slot: float) -> str:
    label = clock_or_date(harvest.hours[number].start_utc_s, harvest.segments.time_zone)
    return f'<text class="middle" x="{_LEFT + (number + 0.5) * slot:.1f}" y="{_HEIGHT - 8}">{label}</text>'
