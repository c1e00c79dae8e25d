"""When the sun is up along a drive: its dark spans, for axes of time and in words."""

from typing import NamedTuple

import numpy as np

from routesolar.physics.sun import UPPER_LIMB_DEG, sun_position
from routesolar.report.clock_words import clock, date_words, weekday
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import local_clock_s
from routesolar.trip.segments import Segments

_STEP_S = 120.0  # between looks at the sun, straight between: good to some seconds
_MOST_LOOKS = 20_000
_NOON_S = 43_200.0


class Dark(NamedTuple):
    """A span of UTC seconds without the sun; it may reach beyond what was looked at."""

    from_utc_s: float
    to_utc_s: float


def dark_on(segments: Segments, departure: int = 0) -> tuple[Dark, ...]:
    """Return when the sun is down during one departure of a drive, where the vehicle then is."""
    starts_s = segments.start_utc_s[departure]
    ends_s = starts_s + segments.duration_s[departure]
    moments = _moments(float(starts_s[0]), float(ends_s[-1]))
    row = np.clip(np.searchsorted(starts_s, moments, side="right") - 1, 0, segments.count - 1)
    return _spans(
        moments,
        segments.middle_latitude_deg[row],
        segments.middle_longitude_deg[row],
        np.nan_to_num(segments.middle_elevation_m[row]),
    )


def dark_at(segments: Segments, first_utc_s: float, last_utc_s: float) -> tuple[Dark, ...]:
    """Return when the sun is down between two instants at the start of a drive."""
    moments = _moments(first_utc_s, last_utc_s)
    place = segments.latitude_deg[0], segments.longitude_deg[0], np.nan_to_num(segments.elevation_m[0])
    return _spans(moments, *(np.full(len(moments), value) for value in place))


def sun_words(segments: Segments, departure: int = 0) -> str:
    """Return when the sun rises and sets on the way in one sentence; empty where it stays up throughout."""
    dark = dark_on(segments, departure)
    start_s, end_s = float(segments.departure_utc_s[departure]), float(segments.arrival_utc_s[departure])
    if not dark:
        return "The sun is up throughout."
    if dark[0].from_utc_s <= start_s and dark[0].to_utc_s >= end_s:
        return ""
    turns = [(span.from_utc_s, "sets") for span in dark if span.from_utc_s > start_s]
    turns += [(span.to_utc_s, "rises") for span in dark if span.to_utc_s < end_s]
    if len(turns) > 4:
        return f"The {'stay' if segments.stopped.all() else 'drive'} goes through {len(dark)} nights."
    told = [f"{verb} at {_when(at_s, segments, departure)}" for at_s, verb in sorted(turns)]
    return f"The sun {', '.join(told[:-1])}{' and ' if len(told) > 1 else ''}{told[-1]}."


def daylight_words(segments: Segments) -> str:
    """Return when the sun rises and sets on the days of the departures where they begin, in one sentence.

    Of more than two days it tells the shortest and the longest.
    """
    zone = segments.time_zone
    midnights = dict.fromkeys(_midnight(float(leave), zone) for leave in segments.departure_utc_s)
    told = [(_up_s(dark := _dark_of_day(segments, start_s), start_s), start_s, dark) for start_s in midnights]
    if len(told) > 2:
        told = [min(told), max(told)]
    dated = len(told) > 1
    return " ".join(
        f"{f'On {date_words(start_s + _NOON_S, zone)} the' if dated else 'The'} sun "
        f"{_rises_and_sets(dark, start_s, zone)} where the drive begins."
        for _, start_s, dark in sorted(told, key=lambda one: one[1])
    )


def _midnight(utc_s: float, zone: str) -> float:
    return round(utc_s - float(local_clock_s(np.array([utc_s]), zone)[0]), 3)


def _dark_of_day(segments: Segments, start_s: float) -> tuple[Dark, ...]:
    return dark_at(segments, start_s, start_s + 2 * _NOON_S)


def _up_s(dark: tuple[Dark, ...], start_s: float) -> float:
    end_s = start_s + 2 * _NOON_S
    return end_s - start_s - sum(min(one.to_utc_s, end_s) - max(one.from_utc_s, start_s) for one in dark)


def _rises_and_sets(dark: tuple[Dark, ...], start_s: float, zone: str) -> str:
    end_s = start_s + 2 * _NOON_S
    if not dark:
        return "stays up all day"
    if _up_s(dark, start_s) < 1:
        return "stays down all day"
    turns = [(one.from_utc_s, "sets") for one in dark if one.from_utc_s > start_s + 1]
    turns += [(one.to_utc_s, "rises") for one in dark if one.to_utc_s < end_s - 1]
    return " and ".join(f"{verb} at {clock(at_s, zone)}" for at_s, verb in sorted(turns))


def _when(utc_s: float, segments: Segments, departure: int) -> str:
    zone = segments.time_zone
    one_day = float(segments.arrival_utc_s[departure] - segments.departure_utc_s[departure]) <= 86_400
    return clock(utc_s, zone) if one_day else f"{weekday(utc_s, zone)} {clock(utc_s, zone)}"


def _moments(first_utc_s: float, last_utc_s: float) -> FloatArray:
    count = int(np.clip((last_utc_s - first_utc_s) / _STEP_S, 2, _MOST_LOOKS)) + 1
    return np.linspace(first_utc_s, last_utc_s, count)


def _spans(
    moments: FloatArray, latitude_deg: FloatArray, longitude_deg: FloatArray, elevation_m: FloatArray
) -> tuple[Dark, ...]:
    height = sun_position(latitude_deg, longitude_deg, elevation_m, moments).elevation_deg - UPPER_LIMB_DEG
    down = height < 0
    turns = np.flatnonzero(down[1:] != down[:-1])
    share = height[turns] / (height[turns] - height[turns + 1])
    at_s = moments[turns] + share * (moments[turns + 1] - moments[turns])
    edges = [*([float(moments[0])] if down[0] else []), *at_s.tolist(), float(moments[-1])]
    return tuple(Dark(*pair) for pair in zip(edges[::2], edges[1::2], strict=False))
