"""Turn a route as read into the line that is driven: pauses, gaps and heights settled."""

import numpy as np

from routesolar.errors import InputError
from routesolar.limits import limit_of
from routesolar.physics.geodesy import distance_m, earth_centred_m
from routesolar.physics.sky import ground_altitude_m
from routesolar.timetable.line import Line
from routesolar.timetable.recorded import Times, pauses
from routesolar.trip.arrays import BoolArray, FloatArray, IntArray
from routesolar.trip.route import Route

GAP_M, GAP_S = 200.0, 300.0  # between pieces of a track: driven below both
FAR_M = 2000.0  # points further apart do not record a road
LINK_M = 1000.0  # longer links are divided, so that a link is as good as straight in space


def travelled_m(route: Route) -> FloatArray:
    """Return the way in metres from the first point to each, gaps included."""
    apart_m = distance_m(
        route.latitude_deg[:-1], route.longitude_deg[:-1], route.latitude_deg[1:], route.longitude_deg[1:]
    )
    return np.concatenate([[0.0], np.cumsum(apart_m)])


def driven_line(route: Route, times: Times | None) -> tuple[Line, list[str]]:
    """Return the line that is driven, and warnings of what was assumed.

    With times, a pause becomes one knot with a wait (what a receiver wanders while parked is not driven).
    A gap of 200 m or 5 minutes between pieces is not driven; the time it took is a wait before it.
    A route of one place is a line without length: the place twice.
    """
    way_m = travelled_m(route)
    elevation_m, warnings = _heights_m(route, way_m)
    kept, wait_s = _parked(route, times)
    if len(kept) == 1:
        kept, wait_s = np.repeat(kept, 2), np.append(wait_s, 0.0)
    apart_m = distance_m(
        route.latitude_deg[kept[:-1]],
        route.longitude_deg[kept[:-1]],
        route.latitude_deg[kept[1:]],
        route.longitude_deg[kept[1:]],
    )
    took_s = np.full(len(apart_m), np.nan) if times is None else np.diff(times.utc_s[kept]) - wait_s[:-1]
    gap = (np.diff(route.piece[kept]) != 0) & ((apart_m >= GAP_M) | (took_s >= GAP_S))
    if times is not None:
        wait_s[:-1] += np.where(gap, took_s, 0.0)
    line = Line.through(
        route.latitude_deg[kept],
        route.longitude_deg[kept],
        elevation_m=elevation_m[kept],
        run=np.concatenate([[0], np.cumsum(gap)]),
        source=kept,
        drive_s=np.concatenate([[0.0], np.cumsum(np.where(gap, 0.0, took_s))]),
        wait_s=wait_s,
    )
    if line.length_m == 0 and gap.any():
        raise InputError(f"{route.name}: nothing but gaps and pauses; there is no line to drive")
    if line.length_m > 1000 * limit_of("route length"):
        raise InputError(
            f"{route.name}: the line is {line.length_m / 1000:,.0f} km long, more than "
            f"{limit_of('route length'):,} km; its points jump from place to place, so it records no drive"
        )
    warnings += _gap_warnings(apart_m, gap, line) + _far_warnings(apart_m, gap, line)
    return _divided(line), warnings


def _parked(route: Route, times: Times | None) -> tuple[IntArray, FloatArray]:
    """Return which points stay when each pause is drawn together at its first, and the seconds parked there."""
    count = len(route.latitude_deg)
    keep, wait_s = np.ones(count, dtype=bool), np.zeros(count)
    if times is not None:
        position_m = earth_centred_m(route.latitude_deg, route.longitude_deg)
        for first, last in pauses(position_m, times.utc_s):
            keep[first + 1 : last + 1] = False
            wait_s[first] = times.utc_s[last] - times.utc_s[first]
    kept = np.flatnonzero(keep).astype(np.int64)
    return kept, wait_s[kept]


def _heights_m(route: Route, way_m: FloatArray) -> tuple[FloatArray, list[str]]:
    known = ~np.isnan(route.elevation_m)
    if not known.any():
        note = "the route has no elevations: heights are those of a coarse world map, and the road is level"
        if way_m[-1] == 0:
            note = "the place's height is that of a coarse world map"
        return ground_altitude_m(route.latitude_deg, route.longitude_deg), [note]
    missing = int(np.count_nonzero(~known))
    heights = np.interp(way_m, way_m[known], route.elevation_m[known])
    note = f"{missing} of {len(known)} points have no elevation; it was interpolated along the line"
    return np.where(known, route.elevation_m, heights), [note] if missing else []


def _gap_warnings(apart_m: FloatArray, gap: BoolArray, line: Line) -> list[str]:
    left_out = np.flatnonzero(gap & (apart_m >= GAP_M))
    if not left_out.size:
        return []
    longest = left_out[np.argmax(apart_m[left_out])]
    count = "a gap" if left_out.size == 1 else f"{left_out.size} gaps"
    return [
        f"{count} between pieces of the track, {apart_m[left_out].sum() / 1000:.1f} km in all, left out "
        f"(the longest at km {line.along_m[longest] / 1000:.1f})"
    ]


def _far_warnings(apart_m: FloatArray, gap: BoolArray, line: Line) -> list[str]:
    far_m = apart_m[~gap & (apart_m > FAR_M)]
    if not far_m.size:
        return []
    return [
        f"neighbouring points are up to {far_m.max() / 1000:.1f} km apart; straight lines were assumed there, "
        f"for {far_m.sum() / line.length_m:.0%} of the route"
    ]


def _divided(line: Line) -> Line:
    """Put knots into every link longer than a kilometre."""
    link_m = np.diff(line.along_m)
    fresh = [
        np.linspace(line.along_m[link], line.along_m[link + 1], int(link_m[link] // LINK_M) + 2)[1:-1]
        for link in np.flatnonzero(link_m > LINK_M)
    ]
    return line.with_knots(np.concatenate(fresh)) if fresh else line
