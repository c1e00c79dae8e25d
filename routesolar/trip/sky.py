"""What the sky is said to be: a scenario, or states resolved onto segments."""

from dataclasses import dataclass

import numpy as np

from routesolar.trip.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SkySpan:
    """Another sky between two local clock times, in seconds after midnight; it may run past midnight."""

    from_clock_s: float
    to_clock_s: float
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sky:
    """A named sky for the whole trip, with the air near the ground.

    `name` is one of physics.clouds.SCENARIOS or "okta N"; `air_c` is at sea level when `air_by_height`
    is True (then it falls by 6.5 C a km), else at the vehicle. `wind_from_deg` is NaN where the direction
    is unknown. `forecast` says how sure the sky is: "known", "today", "tomorrow" or "week".
    Every day, within each of `spans` the sky is that span's; a later span goes before an earlier one.
    """

    name: str
    air_c: float = 15.0
    air_by_height: bool = True
    wind_mps: float = 1.0
    wind_from_deg: float = float("nan")
    forecast: str = "tomorrow"
    spans: tuple[SkySpan, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SkyStates:
    """The two states of the sky on segments; every array broadcasts against (d, n).

    At any instant the sun is out with probability `sun_out_prob`. Out: global irradiance is `out_share`
    of clear and the beam `out_beam_share` of clear beam. Hidden: no beam, global is `hidden_share` of
    clear. `out_sd` and `hidden_sd` are the minute standard deviations of the two shares.
    """

    sun_out_prob: FloatArray
    out_share: FloatArray
    out_beam_share: FloatArray
    hidden_share: FloatArray
    out_sd: FloatArray
    hidden_sd: FloatArray
    air_c: FloatArray
    wind_mps: FloatArray
    wind_from_deg: FloatArray  # NaN: direction unknown

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:
            array = np.asarray(getattr(self, name), dtype=np.float64)
            array.setflags(write=False)
            object.__setattr__(self, name, array)
