"""What a trip may be told in Python: the words of the command line and of trip files, as text or as nouns."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from math import isfinite
from pathlib import Path
from typing import Any, NamedTuple, TypedDict

from routesolar.errors import UsageError
from routesolar.files import wording
from routesolar.files.beside import found_beside
from routesolar.files.reading import PathText
from routesolar.files.stated import Stated
from routesolar.files.values import duration_s, length_m
from routesolar.files.weather_frame import weather_from_frame
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.route import LegsBy, LegsEvery, Pace, Stop, Stretch
from routesolar.trip.sky import Sky, WeatherSeries
from routesolar.trip.surroundings import Trees

Paths = PathText | Sequence[PathText]


class TripWords(TypedDict, total=False):
    """What may be said of a trip; text bears its unit, as on the command line, numbers have it in their name.

    `depart` is a text, a datetime or a pandas Timestamp. `weather` is a file, a WeatherSeries or a
    pandas table.
    """

    depart: str | datetime
    until: str | datetime
    rig: PathText | Rig
    panel: str | Panel
    speed: str
    pace: Pace | Sequence[Pace]
    stop: str | Stop | Sequence[str | Stop]
    surroundings: Stretch | Sequence[Stretch]
    distance: str
    drive_from: str
    hours_a_day: float
    legs: str | LegsBy | LegsEvery
    step: str
    step_m: float
    tz: str
    sky: str | Sky | Sequence[Sky]
    cloud_okta: int | float
    weather: Any
    forecast: str
    air: str
    air_c: float
    wind: str
    wind_mps: float
    map: Paths
    canopy: Paths
    canopy_cover: str
    canopy_cover_pct: float
    canopy_height: PathText
    canopy_height_m: float
    road_width: str
    road_width_m: float
    drive_side: str
    season: str
    trees: Trees
    crown_transmittance_frac: float
    leaf_type: Paths
    terrain: Paths
    surface: Paths
    strict: bool
    units: str
    also: str


def stated_in(words: Mapping[str, Any]) -> Stated:
    """Return what the words state.

    Raises:
        UsageError: a word is not known or says nothing that can be meant, or two words say one thing.
    """
    said = {name: value for name, value in words.items() if value is not None}
    unknown = sorted(said.keys() - TripWords.__annotations__.keys())
    if unknown:
        raise UsageError(
            f"{unknown[0]} is not a key of a trip; use one of {', '.join(TripWords.__annotations__)}"
        )
    for group in (*wording.ALTERNATIVES, *((text, number) for text, number in _PAIRS)):
        both = [name for name in group if name in said]
        if len(both) > 1:
            raise UsageError(f"{' and '.join(both)} contradict each other; give one of them")
    return Stated(**dict(_read(name, value) for name, value in said.items()))


def path_of(value: Any, what: str) -> Path:
    """Return a path; UsageError for what is none."""
    return Path(_several(value, (str, Path), what, "a path, as text or Path")[0]).absolute()


def paths_of(value: Any, what: str) -> tuple[Path, ...]:
    """Return one path or several."""
    paths = _several(value, (str, Path), what, "a path, as text or Path, or several")
    return tuple(Path(path).absolute() for path in paths)


def clock_time_s(value: Any) -> float:
    """Return a clock time in seconds after midnight, of a text such as "07:30" or of seconds."""
    return wording.clock_s(value) if isinstance(value, str) else _seconds(value, 'a clock time such as "07:30"')


def seconds(value: Any) -> float:
    """Return a duration in seconds, of a text such as "30min" or of seconds."""
    return (
        duration_s(value, "every") if isinstance(value, str) else _seconds(value, 'a duration such as "30min"')
    )


def metres(value: Any, what: str) -> float:
    """Return a length in metres, of a text such as "300m" or of metres."""
    return length_m(value, what) if isinstance(value, str) else _seconds(value, 'a length such as "300m"')


def day_named(value: Any) -> date:
    """Return a day, of a text such as "2026-11-20", a date or a datetime."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    if not isinstance(value, str):
        raise UsageError(f'the day is {_shown(value)}; give text such as "2026-11-20", or a date')
    return wording.day_of(value)


def _seconds(value: Any, wanted: str) -> float:
    if isinstance(value, bool) or not hasattr(value, "__float__") or not isfinite(float(value)):
        raise UsageError(f"{_shown(value)} is not {wanted}, nor a number")
    return float(value)


class _Number(NamedTuple):
    """A word that is a number: what it is stated as, its range, and by what it is divided."""

    name: str
    low: float
    high: float
    by: float = 1.0


_NUMBERS = {
    "step_m": _Number("step_m", *wording.STEP_M),
    "air_c": _Number("air_c", -90.0, 60.0),
    "wind_mps": _Number("wind_mps", 0.0, 113.0),
    "canopy_cover_pct": _Number("canopy_cover_frac", 0.0, 100.0, 100.0),
    "canopy_height_m": _Number("canopy_height", 0.1, wording.TALLEST_TREE_M),
    "road_width_m": _Number("road_width", 0.0, wording.WIDEST_ROAD_M),
    "crown_transmittance_frac": _Number("crown_transmittance_frac", 0.0, 1.0),
}
_PAIRS = tuple((name.rsplit("_", 1)[0], name) for name in _NUMBERS if name != "crown_transmittance_frac")
# Words that are texts, and what they are stated as; wording.read_text knows what they may hold.
_TEXTS = {
    "speed": "speed_mps",
    "distance": "distance_m",
    "drive_from": "drive_from_s",
    "step": "step_m",
    "tz": "time_zone",
    "forecast": "forecast",
    "air": "air_c",
    "wind": "wind_mps",
    "canopy_cover": "canopy_cover_frac",
    "road_width": "road_width",
    "drive_side": "drive_side",
    "season": "season",
    "units": "units",
    "also": "also",
}


def _read(name: str, value: Any) -> tuple[str, Any]:
    """Return what a word is stated as, and its meaning."""
    if name in _NUMBERS:
        return _number(name, value)
    if name in _TEXTS:
        if not isinstance(value, str):
            number = f", or {_UNITS[name]}=..." if name in _UNITS else ""
            raise UsageError(f"{name} is {_shown(value)}; give a text, a quantity with its unit{number}")
        return _TEXTS[name], wording.read_text(name, value)
    return _READERS[name](name, value)


def _number(name: str, value: Any) -> tuple[str, float]:
    number = _NUMBERS[name]
    if isinstance(value, bool | str) or not hasattr(value, "__float__") or not isfinite(float(value)):
        raise UsageError(f"{name} is {_shown(value)}; give a number")
    if not number.low <= float(value) <= number.high:
        raise UsageError(f"{name} is {float(value):g}; give from {number.low:g} to {number.high:g}")
    return number.name, float(value) / number.by


_UNITS = dict(_PAIRS)


def _depart(name: str, value: Any) -> tuple[str, datetime]:
    if isinstance(value, datetime):
        plain = getattr(value, "to_pydatetime", lambda **_: value)
        return "depart", plain(warn=False) if hasattr(value, "nanosecond") else value
    if not isinstance(value, str):
        raise UsageError(
            f'{name} is {_shown(value)}; give text such as "2026-11-20 07:30", a datetime or a Timestamp'
        )
    return "depart", wording.read_text("depart", value)


def _until(name: str, value: Any) -> tuple[str, str]:
    if not isinstance(value, str | datetime):
        raise UsageError(f'{name} is {_shown(value)}; give text such as "2026-11-23 10:00", or a datetime')
    return name, wording.until_of(value if isinstance(value, str) else value.isoformat(" "))


def _rig(name: str, value: Any) -> tuple[str, Rig | Path]:
    if isinstance(value, Rig):
        return "rig", value
    if isinstance(value, Panel):
        return "rig", Rig(panels=(value,))
    if name == "panel" and isinstance(value, str):
        return "rig", wording.read_text("panel", value)
    if name == "panel":
        raise UsageError(f'panel is {_shown(value)}; give text such as "200W", or a Panel')
    return "rig", path_of(value, "rig")


def _nouns(kind: type, stated_as: str) -> Callable[[str, Any], tuple[str, Any]]:
    def read(name: str, value: Any) -> tuple[str, Any]:
        return stated_as, _several(value, (kind,), name, f"a {kind.__name__} or several")

    return read


def _stop(name: str, value: Any) -> tuple[str, tuple[Stop, ...]]:
    stops = _several(value, (str, Stop), name, 'text such as "42km:45min", a Stop, or several')
    return "stops", tuple(wording.stop_of(stop) if isinstance(stop, str) else stop for stop in stops)


def _hours(name: str, value: Any) -> tuple[str, float]:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise UsageError(f"{name} is {_shown(value)}; give a number of hours, such as 4")
    return name, wording.read_text(name, value if isinstance(value, str) else f"{value:.9g}")


def _legs(name: str, value: Any) -> tuple[str, Any]:
    if isinstance(value, LegsBy | LegsEvery):
        return "legs", value
    if not isinstance(value, str):
        raise UsageError(f'{name} is {_shown(value)}; give text such as "auto" or "50km", LegsBy or LegsEvery')
    return "legs", wording.read_text("legs", value)


def _sky(name: str, value: Any) -> tuple[str, Any]:
    if name == "cloud_okta":
        return "sky", wording.read_text("cloud_okta", f"{value}")
    if isinstance(value, str):
        return "sky", wording.read_text("sky", value)
    return "skies", _several(value, (Sky,), name, "the name of a sky, a Sky, or several")


def _weather(name: str, value: Any) -> tuple[str, Any]:
    if isinstance(value, WeatherSeries):
        return "weather", value
    if hasattr(value, "columns") and hasattr(value, "index"):
        return "weather", weather_from_frame(value)
    return "weather", path_of(value, name)


def _height(name: str, value: Any) -> tuple[str, Any]:
    (source,) = _several(value, (str, Path), name, 'a height such as "18m", or a file or web address')
    height = wording.read_text("canopy_height", str(source))
    return "canopy_height", _found(height) if isinstance(height, str) else height


def _files(name: str, value: Any) -> tuple[str, tuple[str, ...]]:
    sources = _several(value, (str, Path), name, "a file or web address, or several")
    return name, tuple(map(_found, sources))


def _found(source: Any) -> str:
    """Return a file's whole path, so that it is found from any folder; a web address stays as it is."""
    return found_beside(Path.cwd(), str(source))


def _trees(name: str, value: Any) -> tuple[str, Trees]:
    return "trees", _several(value, (Trees,), name, "Trees")[0]


def _flag(name: str, value: Any) -> tuple[str, bool]:
    if not isinstance(value, bool):
        raise UsageError(f"{name} is {_shown(value)}; give True or False")
    return name, value


_READERS: Mapping[str, Callable[[str, Any], tuple[str, Any]]] = {
    "depart": _depart,
    "until": _until,
    "rig": _rig,
    "panel": _rig,
    "pace": _nouns(Pace, "paces"),
    "stop": _stop,
    "surroundings": _nouns(Stretch, "stretches"),
    "hours_a_day": _hours,
    "legs": _legs,
    "sky": _sky,
    "cloud_okta": _sky,
    "weather": _weather,
    "map": _files,
    "canopy": _files,
    "canopy_height": _height,
    "trees": _trees,
    "leaf_type": _files,
    "terrain": _files,
    "surface": _files,
    "strict": _flag,
}


def _several(value: Any, kinds: tuple[type, ...], what: str, wanted: str) -> tuple[Any, ...]:
    """Return one thing or several, all of these kinds; UsageError for anything else."""
    values = tuple(value) if isinstance(value, list | tuple) else (value,)
    wrong = [each for each in values if not isinstance(each, kinds)]
    if wrong or not values:
        raise UsageError(f"{what} is {_shown(wrong[0] if wrong else value)}; give {wanted}")
    return values


def _shown(value: Any) -> str:
    text = repr(value)
    return f"{text[:60]}{'…' * (len(text) > 60)} ({type(value).__name__})"
