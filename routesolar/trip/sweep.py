"""What came out of many departures of one drive, reduced as it was computed."""

from dataclasses import dataclass

import numpy as np

from routesolar.trip.arrays import FloatArray, lock_fields
from routesolar.trip.noun import Noun, Result
from routesolar.trip.segments import Leg


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class SweepCharge(Noun):
    """The battery of each departure on an average day of the leading sky, (d,).

    An average day brings the expected watts all along: without clouds that come and go, loads near balance
    miss less than they do. `load_share_frac` is what the sun carried of the loads, NaN without loads;
    `curtailed_wh` is sun that a full or cold battery turned away.
    """

    soc_end_frac: FloatArray
    lowest_soc_frac: FloatArray
    load_wh: FloatArray
    load_share_frac: FloatArray
    alternator_wh: FloatArray
    curtailed_wh: FloatArray
    shortfall_wh: FloatArray
    capacity_wh: FloatArray

    def __post_init__(self) -> None:
        lock_fields(self, dict.fromkeys(self.__dataclass_fields__, np.shape(self.soc_end_frac)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Stages(Noun):
    """Each departure in k stages of a few minutes under the leading sky, for laying drives side by side.

    Geometry is (k,), `along_km` at the stage's end. Everything else is (d, k): energy within the stage, its end
    in UTC seconds; `middle_min` in minutes since 1970, `solar_day`, `passing_wh` (d, k, 5) and `lasting_wh`
    (d, k, 4) are the doubt about its clouds as physics.shared_sky has it.
    """

    latitude_deg: FloatArray
    longitude_deg: FloatArray
    along_km: FloatArray
    energy_wh: FloatArray
    end_utc_s: FloatArray
    middle_min: FloatArray
    solar_day: FloatArray
    passing_wh: FloatArray
    lasting_wh: FloatArray

    def __post_init__(self) -> None:
        lock_fields(self, {name: np.shape(getattr(self, name)) for name in self.__dataclass_fields__})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class OtherTrees(Noun):
    """The leading sky's spread of each departure at k nodes of other trees, as physics.unsure_trees has them.

    `nodes` is (k, 4), the rest (k, d). `rests_on` says what width, cover and crowns rest on: roads with the
    same words share that error. What uneven shade costs is off by the same on all roads.
    """

    nodes: FloatArray
    mean_wh: FloatArray
    variance_wh2: FloatArray
    low_wh: FloatArray
    high_wh: FloatArray
    rests_on: tuple[str, str, str]

    def __post_init__(self) -> None:
        names = ("mean_wh", "variance_wh2", "low_wh", "high_wh")
        lock_fields(self, dict.fromkeys(names, np.shape(self.mean_wh)) | {"nodes": (len(self.nodes), 4)})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Sweep(Result):
    """d departures of one route under s skies, the first leading; energies in Wh at the battery terminals.

    `arrival_utc_s` is the end of the last driving. Energies are (s, d), those of the legs (s, d, l). Of the
    leading sky alone (d,): energy without trees and terrain, the percentiles over clouds and trees, and the
    mean, variance and bounds of the clouds' spread among the trees as stated, which belong to physics.bands.
    `others` is that spread among other trees. `charge` is None without a battery.
    """

    departure_utc_s: FloatArray
    arrival_utc_s: FloatArray
    time_zone: str
    distance_km: float
    legs: tuple[Leg, ...]
    skies: tuple[str, ...]
    energy_wh: FloatArray
    leg_wh: FloatArray
    driving_wh: FloatArray
    stopped_wh: FloatArray
    open_sky_wh: FloatArray
    energy_low_wh: FloatArray
    energy_mid_wh: FloatArray
    energy_high_wh: FloatArray
    mean_wh: FloatArray
    variance_wh2: FloatArray
    low_wh: FloatArray
    high_wh: FloatArray
    stages: Stages
    others: OtherTrees
    charge: SweepCharge | None = None
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        s, d, legs = len(self.skies), len(self.departure_utc_s), len(self.legs)
        per_sky = dict.fromkeys(("energy_wh", "driving_wh", "stopped_wh"), (s, d))
        leading = (
            "departure_utc_s arrival_utc_s open_sky_wh energy_low_wh energy_mid_wh energy_high_wh "
            "mean_wh variance_wh2 low_wh high_wh"
        ).split()
        lock_fields(self, {**per_sky, "leg_wh": (s, d, legs), **dict.fromkeys(leading, (d,))})

    @property
    def shade_loss_frac(self) -> FloatArray:
        """What trees and terrain take of an open road's energy, (d,); NaN where there is none to take."""
        lit = self.open_sky_wh > 0
        kept = np.divide(self.energy_wh[0], self.open_sky_wh, out=np.full(len(lit), np.nan), where=lit)
        lost: FloatArray = 1 - kept
        return lost
