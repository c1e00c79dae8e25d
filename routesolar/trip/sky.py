"""What the sky is said to be: a scenario, a weather file, or states resolved onto segments."""

from dataclasses import dataclass, field
from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from routesolar.errors import UsageError
from routesolar.physics.clouds import SCENARIOS
from routesolar.trip.arrays import FloatArray, length_of, lock_fields, locked_numbers
from routesolar.trip.names import printable
from routesolar.trip.noun import Noun
from routesolar.trip.ranges import ALONG, check_arrays, check_ranges

FORECASTS = ("known", "today", "tomorrow", "week", "climate")


def check_sky_name(name: str) -> None:
    """Raise UsageError unless a sky is known by this name: a scenario, or "okta N" with N from 0 to 8."""
    if name in SCENARIOS:
        return
    kind, _, okta = str(name).partition(" ")
    try:
        known = kind == "okta" and 0.0 <= float(okta) <= 8.0
    except ValueError:
        known = False
    if not known:
        raise UsageError(
            f'sky is "{printable(str(name))}", which is not a known sky; give one of {", ".join(SCENARIOS)}, '
            "or okta 0 to 8"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SkySpan:
    """Another sky between two local clock times, in seconds after midnight; it may run past midnight."""

    from_clock_s: float
    to_clock_s: float
    name: str

    def __post_init__(self) -> None:
        check_sky_name(self.name)
        check_ranges(self, ("from_clock_s", "to_clock_s"), ALONG)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class WeatherSeries(Noun):
    """What a weather file says at k places in t steps: arrays (t, k), NaN where it says nothing.

    `time_utc_s` (t,) is the middle of each step; irradiance is the mean over `averaged_s` around it (0: of
    that moment). `elevation_m` (k,) is NaN where the file does not give it. In a typical year times count
    from the start of an ordinary year of 365 days, UTC, whatever year is asked for. `warnings` says what
    its reader should know of it. `path` is the file it came from, `sha256` its digest. A forecast along a
    route is of one place that is `moving`: its values are (t, 1), its latitude, longitude and elevation those
    of each step, (t,).
    """

    name: str
    typical: bool
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    elevation_m: FloatArray
    time_utc_s: FloatArray
    step_s: float
    averaged_s: float
    cloud_frac: FloatArray
    ghi_wm2: FloatArray
    dni_wm2: FloatArray
    dhi_wm2: FloatArray
    air_c: FloatArray
    wind_mps: FloatArray
    wind_from_deg: FloatArray
    moving: bool = False
    warnings: tuple[str, ...] = ()
    path: str = field(default="", compare=False)
    sha256: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        steps = length_of(self.time_utc_s, "time_utc_s")
        places = length_of(self.latitude_deg, "latitude_deg")
        if self.moving and places != steps:
            raise UsageError(f"a moving place needs a position at each of its {steps} steps, not {places}")
        columns = 1 if self.moving else places
        shapes: dict[str, tuple[int, ...]] = dict.fromkeys(WEATHER_VALUES, (steps, columns))
        at = ("latitude_deg", "longitude_deg", "elevation_m")
        lock_fields(self, {**shapes, **dict.fromkeys(at, (places,)), "time_utc_s": (steps,)})
        check_arrays(self, (*at, "time_utc_s"), unknown=("elevation_m",))
        if np.any(np.diff(self.time_utc_s) <= 0):
            raise UsageError("time_utc_s must increase")

    @property
    def holds_days(self) -> bool:
        """Whether this is a typical year of single days' light, any of which may come: not of daily means."""
        return self.typical and self.step_s < _DAY_S and self.tells_light

    @property
    def tells_light(self) -> bool:
        """Whether anything is said of clouds or irradiance, so that no sky has to be named."""
        light = (self.cloud_frac, self.ghi_wm2, self.dni_wm2, self.dhi_wm2)
        return any(bool(np.isfinite(values).any()) for values in light)


_DAY_S = 86_400.0
WEATHER_VALUES = ("cloud_frac", "ghi_wm2", "dni_wm2", "dhi_wm2", "air_c", "wind_mps", "wind_from_deg")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class ClearSkyIndex(Noun):
    """Light on n segments as shares of the truly clear sky's there and then: of global and of beam irradiance.

    `global_index` (n,) is global horizontal irradiance over clear, 0 to 1.6 (clouds beside the sun add light),
    `beam_index` (n,) direct normal irradiance over clear, or None where it is not known. The clear sky is the
    drive's own. NaN only where the sun is down.
    """

    global_index: FloatArray
    beam_index: FloatArray | None = None

    def __post_init__(self) -> None:
        n = (length_of(self.global_index, "global_index"),)
        names = ("global_index",) if self.beam_index is None else ("global_index", "beam_index")
        lock_fields(self, dict.fromkeys(names, n))
        check_arrays(self, names, unknown=names)

    @property
    def count(self) -> int:
        """Number of segments n."""
        return len(self.global_index)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Sky(Noun):
    """A sky for the whole trip, with the air near the ground.

    `name` is one of physics.clouds.SCENARIOS or "okta N"; where there is `weather`, what it says goes before
    the name and the air given here, and the name may be the file's. `air_c` is at the vehicle; None: what is
    usual at the place, in the season and at the hour. `wind_from_deg` is NaN where the direction is unknown.
    `forecast` says how sure the sky is: "known", "today", "tomorrow", "week" or, for what is only usual there
    at that time of year, "climate": then a typical year's days around the date are a sample of what may come.
    Every day, within each of `spans` the sky is that span's; a later span goes before an earlier one.
    With an `index` the sky is what that says, segment by segment; see `of_index`.
    """

    name: str
    air_c: float | None = None
    wind_mps: float = 1.0
    wind_from_deg: float = float("nan")
    forecast: str = "tomorrow"
    spans: tuple[SkySpan, ...] = ()
    weather: WeatherSeries | None = None
    index: ClearSkyIndex | None = None

    def __post_init__(self) -> None:
        if self.index is not None:
            self._check_index()
        elif self.weather is None or not self.weather.tells_light:
            check_sky_name(self.name)
        if self.forecast not in FORECASTS:
            raise UsageError(f"forecast is {self.forecast!r}; give one of {', '.join(FORECASTS)}")
        check_ranges(self, ("wind_mps",), ALONG)
        if self.air_c is not None:
            check_ranges(self, ("air_c",), ALONG)
        if not np.isnan(self.wind_from_deg):
            check_ranges(self, ("wind_from_deg",), ALONG)
        if self.weather is not None:
            check_arrays(self.weather, WEATHER_VALUES, unknown=WEATHER_VALUES)

    def _check_index(self) -> None:
        """Raise UsageError where the sky is said in another way beside its index."""
        if not isinstance(self.index, ClearSkyIndex):
            raise UsageError(f"index is {self.index!r}; give a ClearSkyIndex, or use Sky.of_index")
        if self.forecast != "known":
            raise UsageError(f"forecast is {self.forecast!r}, but a sky given by its index is known")
        if self.spans or (self.weather is not None and self.weather.tells_light):
            raise UsageError("the sky is given by its index; leave out spans, and weather that tells the light")

    @classmethod
    def of_index(
        cls,
        global_index: ArrayLike,
        beam_index: ArrayLike | None = None,
        *,
        name: str = "clear-sky index",
        air_c: float | None = None,
        wind_mps: float = 1.0,
        wind_from_deg: float = float("nan"),
    ) -> Self:
        """Return the sky of a clear-sky index on every segment of a drive, (n,), as measured or modelled.

        1 is the truly clear sky of place, height, season and hour (Trip.drive's segments; the scenario "clear"
        is a little less). With `beam_index` too, the light is certain: the interval holds only the trees and
        what a day's haze does to the clear sky that is multiplied (2.9 %, one standard deviation). Without it,
        sun and cloud take turns within a segment so that their mean is the index, as with a weather file's
        irradiance, and the interval holds that as well; it suits means over minutes, not moments. How far the
        index itself may be off is not in the interval: give several skies. It fits one drive; segments of
        another number refuse it, and all departures of a drive get the same.

        Raises:
            UsageError: values are not numbers from 0 to 1.6 (beam: 0 to 3), or not one for each segment.
        """
        index = ClearSkyIndex(global_index=global_index, beam_index=beam_index)  # type: ignore[arg-type]
        return cls(
            name=name,
            air_c=air_c,
            wind_mps=wind_mps,
            wind_from_deg=wind_from_deg,
            forecast="known",
            index=index,
        )

    @property
    def is_sample(self) -> bool:
        """Whether many days may come, each told by the weather: a typical year's around the date."""
        return self.weather is not None and self.weather.holds_days and self.forecast == "climate"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class SkyStates(Noun):
    """The two states of the sky on segments; every array broadcasts against (d, n).

    At any instant the sun is unobscured with probability `sun_out_prob`. Then the clear-sky index of global
    irradiance is `unobscured_index`, and that of the beam `unobscured_beam_index`. Obscured: no beam, a
    clear-sky index of `obscured_index`. `unobscured_sd` and `obscured_sd` are the two indices' standard
    deviations from minute to minute.
    """

    sun_out_prob: FloatArray
    unobscured_index: FloatArray
    unobscured_beam_index: FloatArray
    obscured_index: FloatArray
    unobscured_sd: FloatArray
    obscured_sd: FloatArray
    air_c: FloatArray
    wind_mps: FloatArray
    wind_from_deg: FloatArray  # NaN: direction unknown

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            object.__setattr__(self, name, locked_numbers(getattr(self, name), name))
