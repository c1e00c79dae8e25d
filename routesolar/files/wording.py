"""What may be said of a trip, on the command line and in a trip file: the same words and checks for both."""

import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from types import MappingProxyType
from typing import Any

from routesolar.errors import UsageError
from routesolar.files import values
from routesolar.files.reading import printable
from routesolar.files.rigfile import panel_only_rig
from routesolar.limits import limit_of
from routesolar.model.sky import named_sky
from routesolar.timetable.departure import checked_zone, parse_departure, read_departure
from routesolar.timetable.own_route import route_at
from routesolar.timetable.stops import read_until
from routesolar.trip.route import LegsBy, LegsEvery, Plan, Route, Stop

# Ways to say the same thing, of which one may be given.
SKY_OPTIONS = ("sky", "cloud_okta", "weather")
ALTERNATIVES = (("panel", "rig"), SKY_OPTIONS, ("canopy", "canopy_cover"))

CARD = "card"  # a picture, which the report draws
ALSO = ("kml", "gpx", CARD)  # what may be written besides

STEP_M = (1.0, 1000.0)
SHORTEST_LEG_M, SHORTEST_LEG_S = 100.0, 60.0
WIDEST_ROAD_M = 1000.0
TALLEST_TREE_M = 130.0  # the tallest known stands 116 m high (from memory)

_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)", re.ASCII)
_HOURS = re.compile(r"(\d{1,2}(?:\.\d+)?)\s*h?", re.ASCII)
_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_PLACE = re.compile(r"\s*([+-]?\d{1,3}(?:\.\d*)?)\s*,\s*([+-]?\d{1,3}(?:\.\d*)?)\s*", re.ASCII)
_BARE_NUMBER = re.compile(r"\s*[+-]?\d+([.,]\d*)?\s*", re.ASCII)


def speed_mps(text: str) -> float:
    """Return a road vehicle's speed in m/s."""
    speed = values.speed_mps(text)
    Plan(speed_mps=speed)  # knows how fast a road vehicle is
    return speed


BY_MAP = "map"  # instead of a speed: the limits and usual speeds of the map's roads


def speed(text: str) -> float | str:
    """Return a speed in m/s, or the word that leaves it to the map."""
    return BY_MAP if text == BY_MAP else speed_mps(text)


def distance_m(text: str) -> float:
    """Return how long the road is, in metres."""
    metres = values.length_m(text, "distance", "300km")
    if not 0 < metres <= 1000 * limit_of("route length"):
        raise UsageError(f'distance is "{printable(text)}"; give how long the road is, such as 300km')
    return metres


def hours_a_day(text: str) -> float:
    """Return the hours of driving of a day."""
    match = _HOURS.fullmatch(text.strip())
    if match is None:
        raise UsageError(f'hours-a-day is "{printable(text)}"; give hours of driving, such as 4 or 4.5')
    hours = float(match[1])
    Plan(drive_from_s=0.0, hours_a_day=hours)  # knows how many a day has
    return hours


def step_m(text: str) -> float:
    """Return the longest segment in metres."""
    step = values.length_m(text, "step", "50m")
    if not STEP_M[0] <= step <= STEP_M[1]:
        raise UsageError(f'step is "{printable(text)}"; give between {STEP_M[0]:.0f}m and {STEP_M[1]:.0f}m')
    return step


def clock_s(text: str) -> float:
    """Return seconds after midnight of a clock time."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        raise UsageError(f'"{printable(text)}" is not a clock time; write it as "12:30"')
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0


def clock_range_s(text: str, what: str) -> tuple[float, float]:
    """Return seconds after midnight of the two clock times of "11:00..15:00"."""
    first, dots, last = text.partition("..")
    if not dots:
        raise UsageError(f'{what} is "{printable(text)}"; write it as 11:00..15:00')
    return clock_s(first), clock_s(last)


def day_of(text: str) -> date:
    """Return the day of a text such as 2026-11-20."""
    if not _DAY.fullmatch(text.strip()):
        raise UsageError(f'date is "{printable(text)}"; write it as 2026-11-20')
    noon = parse_departure(f"{text.strip()} 12:00", "UTC")  # knows the calendar, and which years are known
    return datetime.fromtimestamp(noon.utc_s, UTC).date()


FIT = "fit"  # instead of a width: as the cover raster shows it


def road_width_m(text: str) -> float:
    """Return the opening between the trees in metres."""
    width = values.length_m(text, "road-width", "12m")
    if width > WIDEST_ROAD_M:
        raise UsageError(
            f'road-width is "{printable(text)}"; give up to {WIDEST_ROAD_M:.0f}m, or no trees at all'
        )
    return width


def road_width(text: str) -> float | str:
    """Return the opening between the trees in metres, or the word that leaves it to the cover raster."""
    return FIT if text == FIT else road_width_m(text)


def canopy_height(text: str) -> float | str:
    """Return the trees' height in metres, or the raster of heights that the text names."""
    metres = tree_height_m(text)
    return text if metres is None else metres


def tree_height_m(text: str) -> float | None:
    """Return the trees' height in metres; None where the text is not a length, and so names a raster."""
    if _BARE_NUMBER.fullmatch(text):
        raise UsageError(f'canopy-height is "{printable(text)}" without a unit; write it as 18m')
    if not values.is_quantity(text, "length"):
        return None
    height = values.length_m(text, "canopy-height", "18m")
    if not 0 < height <= TALLEST_TREE_M:
        raise UsageError(
            f'canopy-height is "{printable(text)}", but trees grow to {TALLEST_TREE_M:.0f} m; write it as 18m'
        )
    return height


def legs_by(text: str) -> LegsBy | LegsEvery:
    """Return what parts the trip into legs: a word, a distance or a driving time."""
    if text in [by.value for by in LegsBy]:
        return LegsBy(text)
    metres, seconds = values.is_quantity(text, "length"), values.is_quantity(text, "duration")
    if metres and seconds:
        raise UsageError(f'legs is "{printable(text)}": metres or minutes? write 0.5km or 60min')
    if metres:
        distance_m = values.length_m(text, "legs", "50km")
        if distance_m >= SHORTEST_LEG_M:
            return LegsEvery(distance_m=distance_m)
    elif seconds:
        driving_s = values.duration_s(text, "legs")
        if driving_s >= SHORTEST_LEG_S:
            return LegsEvery(driving_s=driving_s)
    else:
        raise UsageError(
            f'legs is "{printable(text)}"; give auto, track, waypoint, a length (50km) or a time (60min)'
        )
    raise UsageError(f'legs is "{printable(text)}", too short for a leg; give at least 0.1km or 1min')


def stop_of(text: str) -> Stop:
    """Return the stop that "42km:45min" or "waypoint name:45min" means."""
    place, colon, length = text.rpartition(":")
    if not colon or not place.strip():
        raise UsageError(
            f'stop is "{printable(text)}"; write it as 42km:45min, or a waypoint\'s name:45min, or end:45min'
        )
    return Stop(at=place.strip(), at_m=stop_at_m(place), duration_s=values.duration_s(length, "stop"))


def until_of(text: str) -> str:
    """Return a time until which one stays as it is named: "12:30", or with its day "2026-11-21 08:00"."""
    read_until(text)
    return text.strip()


def place_of(text: str) -> Route:
    """Return the route of the place that "-41.6,146.5" means: latitude and longitude in degrees."""
    match = _PLACE.fullmatch(text)
    if match is None:
        raise UsageError(
            f'at is "{printable(text)}"; write the place as latitude,longitude in degrees: "-41.6,146.5"'
        )
    return route_at(float(match[1]), float(match[2]))


def is_place(text: str) -> bool:
    """Tell whether a text is two numbers, so that it is neither a name nor a distance."""
    return _PLACE.fullmatch(text) is not None


def stop_at_m(place: str) -> float | None:
    """Return how far along the route a stop lies, in metres; None where the text is a waypoint's name."""
    if not place.strip():
        raise UsageError("a stop needs a place: a distance such as 42km, or a waypoint's name")
    return values.length_m(place, "stop") if values.is_quantity(place, "length") else None


def formats_of(text: str) -> tuple[str, ...]:
    """Return what else is written, such as "kml,gpx", as it is named."""
    names = tuple(word.strip() for word in text.split(",") if word.strip())
    unknown = [name for name in names if name not in ALSO]
    if unknown or not names:
        raise UsageError(f'also is "{printable(text)}"; choose from {", ".join(ALSO)}')
    return names


TYPICAL = "typical"  # instead of a sky: the usual weather of month and place


def sky_name(text: str) -> str:
    """Return the name of a sky; UsageError if there is none of that name."""
    if text != TYPICAL:
        named_sky(text)
    return text


def _okta(text: str) -> str:
    """Return the name of the sky with so many eighths of cloud."""
    named_sky(f"okta {text}")
    return f"okta {text}"


def _one_of(option: str, *words: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in words:
            raise UsageError(f'{option} is "{printable(text)}"; give one of {", ".join(words)}')
        return text

    return read


_READERS: Mapping[str, Callable[[str], object]] = MappingProxyType(
    {
        "panel": lambda text: panel_only_rig(values.power_w(text)),
        "depart": read_departure,
        "speed": speed,
        "distance": distance_m,
        "drive_from": clock_s,
        "hours_a_day": hours_a_day,
        "legs": legs_by,
        "at": place_of,
        "until": until_of,
        "sky": sky_name,
        "cloud_okta": _okta,
        "forecast": _one_of("forecast", "known", "today", "tomorrow", "week"),
        "air": values.temperature_c,
        "wind": values.wind_mps,
        "canopy_cover": lambda text: values.percent_frac(text, "canopy-cover"),
        "canopy_height": canopy_height,
        "road_width": road_width,
        "drive_side": _one_of("drive-side", "left", "right"),
        "season": _one_of("season", "auto", "leaf-on", "leaf-off"),
        "step": step_m,
        "tz": checked_zone,
        "units": _one_of("units", "metric", "imperial"),
        "also": formats_of,
    }
)


def read_text(option: str, text: str) -> Any:
    """Return what a text means under an option: a number in SI units, a word, a noun; UsageError if nothing.

    What names a file stays a text.
    """
    return _READERS[option](text) if option in _READERS else text
