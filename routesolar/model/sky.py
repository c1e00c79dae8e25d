"""Resolve what is said of the sky onto the segments of a drive: two states, air and wind."""

from collections.abc import Iterable, Iterator

import numpy as np

from routesolar.model.mixing import mixed_states
from routesolar.model.own_sky import states_of_index
from routesolar.model.weather import WeatherAlong, weather_along
from routesolar.physics.air import usual_air_c
from routesolar.physics.clouds import SCENARIOS, CloudStates, okta_sun_out_prob, sun_out_states
from routesolar.trip.arrays import FloatArray
from routesolar.trip.clock import local_clock_s
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates, check_sky_name

SAMPLE_DAYS = range(-15, 16)  # a typical year's days that may come, counted from the date
_DAY_S = 86_400.0


def named_sky(name: str) -> CloudStates:
    """Return the two states of a scenario or of "okta N", as arrays without dimension.

    Raises:
        UsageError: the name is neither, or N lies outside 0-8.
    """
    check_sky_name(name)
    if name in SCENARIOS:
        scenario = SCENARIOS[name]
        return CloudStates(*(np.asarray(getattr(scenario, field)) for field in CloudStates._fields))
    return sun_out_states(okta_sun_out_prob(float(name.removeprefix("okta "))))


def sky_states(sky: Sky, segments: Segments, sun_apparent_elevation_deg: FloatArray) -> SkyStates:
    """Return the two states of the sky, the air (C) and the wind (m/s) on every segment.

    Fields are scalars, (n,) or (d, n); of a sample of days they are the mixture of all. A weather file goes
    before the sky's name and air, a span before both. The sun's apparent elevation (d, n) matters only for a
    forecast cloud fraction, which covers more of a low sun; a named sky has the same states all day.

    Raises:
        UsageError: a sky's name is not known.
        InputError: the weather file does not cover the drive.
    """
    return mixed_states(day_states(sky, segments, sun_apparent_elevation_deg))


def states_of(
    skies: Iterable[Sky], segments: Segments, sun_apparent_elevation_deg: FloatArray
) -> list[SkyStates]:
    """Return the states of several skies over one drive, as `sky_states`; the usual air is looked up once."""
    skies = tuple(skies)
    usual_c = _usual_air_c(segments) if any(sky.air_c is None for sky in skies) else None
    return [mixed_states(day_states(sky, segments, sun_apparent_elevation_deg, usual_c)) for sky in skies]


def day_states(
    sky: Sky,
    segments: Segments,
    sun_apparent_elevation_deg: FloatArray,
    usual_c: FloatArray | None = None,
) -> Iterator[SkyStates]:
    """Yield the sky of every day that may come, as `sky_states`: one, or a typical year's around the date.

    `usual_c` (d, n) is the usual air, where it is known already.
    """
    if sky.air_c is None and usual_c is None:
        usual_c = _usual_air_c(segments)
    given = (
        np.asarray(usual_c if sky.air_c is None else sky.air_c),
        np.asarray(sky.wind_mps),
        np.asarray(sky.wind_from_deg),
    )
    if sky.weather is None:
        yield _told(sky, segments, _own_states(sky, segments), given)
        return
    days = SAMPLE_DAYS if sky.is_sample else (0,)
    for along in weather_along(sky.weather, segments, sun_apparent_elevation_deg, days):
        states = _own_states(sky, segments) if along.states is None else along.states
        yield _told(sky, segments, states, _with_weather(along, *given))


def _own_states(sky: Sky, segments: Segments) -> CloudStates:
    """Return the states of the sky's name or index, where no weather file tells them."""
    return named_sky(sky.name) if sky.index is None else states_of_index(sky.index, segments)


def _told(sky: Sky, segments: Segments, states: CloudStates, air: tuple[FloatArray, ...]) -> SkyStates:
    """Return states with the sky's spans, and with air, wind and its direction."""
    if sky.spans:
        states = _with_spans(states, sky, segments)
    air_c, wind_mps, wind_from_deg = air
    return SkyStates(**states._asdict(), air_c=air_c, wind_mps=wind_mps, wind_from_deg=wind_from_deg)


def _with_weather(along: WeatherAlong, *default: FloatArray) -> tuple[FloatArray, ...]:
    """Return the file's air and wind, and the default where it says nothing."""
    said = along.air_c, along.wind_mps, along.wind_from_deg
    return tuple(np.where(np.isnan(one), other, one) for one, other in zip(said, default, strict=True))


def _with_spans(states: CloudStates, sky: Sky, segments: Segments) -> CloudStates:
    """Return (d, n) states in which each span's sky stands between its clock times."""
    clock_s = local_clock_s(segments.middle_utc_s, segments.time_zone)
    fields = [np.broadcast_to(field, clock_s.shape) for field in states]
    for span in sky.spans:
        length_s = (span.to_clock_s - span.from_clock_s) % _DAY_S
        inside = (clock_s - span.from_clock_s) % _DAY_S < length_s
        fields = [np.where(inside, new, old) for new, old in zip(named_sky(span.name), fields, strict=True)]
    return CloudStates(*fields)


def _usual_air_c(segments: Segments) -> FloatArray:
    """Return the air that is usual there and then, (d, n), locked: skies share it."""
    usual_c = usual_air_c(
        segments.middle_latitude_deg,
        segments.middle_longitude_deg,
        segments.middle_elevation_m,
        segments.middle_utc_s,
    )
    usual_c.setflags(write=False)
    return usual_c
