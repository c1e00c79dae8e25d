"""What came out: one drive with every array and its sums per leg, or many departures reduced."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from routesolar.trip.arrays import FloatArray, lock_fields
from routesolar.trip.segments import Segments


@dataclass(frozen=True, slots=True, kw_only=True)
class LegResult:
    """Sums over one leg (or the whole trip, as totals). None: undefined or not asked for.

    Energies are watt-hours at the battery terminals. `open_sky_wh` is the same chain without trees
    and terrain, `clear_sky_wh` also without clouds.
    """

    leg: int
    name: str
    kind: str
    start_utc_s: float
    end_utc_s: float
    distance_km: float
    duration_s: float
    mean_w: float
    peak_w: float
    energy_wh: float
    open_sky_wh: float
    clear_sky_wh: float
    shade_loss_frac: float | None
    cloud_loss_frac: float | None
    energy_p10_wh: float | None = None
    energy_p50_wh: float | None = None
    energy_p90_wh: float | None = None
    energy_shade_low_wh: float | None = None
    energy_shade_high_wh: float | None = None
    alternator_wh: float | None = None
    load_wh: float | None = None
    soc_start_frac: float | None = None
    soc_end_frac: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SkyResult:
    """The whole trip's energy under one named sky."""

    sky: str
    energy_wh: float
    energy_p10_wh: float | None = None
    energy_p90_wh: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HourResult:
    """Energy within one local clock hour, driving and stopped apart."""

    start_utc_s: float
    driving_wh: float
    stopped_wh: float
    load_wh: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """The battery along one drive; times are UTC seconds, None where it never happened.

    `soc_frac` (n,) is at the end of each segment on the expected day, `soc_p10_frac` on the day of which
    nine in ten are better. `shortfall_wh` is what the loads missed, `engine_hours` how much longer the
    alternator would have to charge to close that; None without an alternator. `load_share_frac` is what the
    sun carried of the loads; None without loads.
    """

    soc_frac: FloatArray
    soc_p10_frac: FloatArray
    alternator_w: FloatArray
    load_w: FloatArray
    curtailed_wh: float
    shortfall_wh: float
    first_full_utc_s: float | None
    first_reserve_utc_s: float | None
    lowest_soc_frac: float
    lowest_utc_s: float
    load_share_frac: float | None
    engine_hours: float | None
    shortfall_p10_wh: float
    lowest_soc_p10_frac: float
    reserve_soc_frac: float

    def __post_init__(self) -> None:
        n = (len(self.soc_frac),)
        lock_fields(self, dict.fromkeys(("soc_frac", "soc_p10_frac", "alternator_w", "load_w"), n))


@dataclass(frozen=True, slots=True, kw_only=True)
class Harvest:
    """One departure: arrays over n segments as segments.csv has them, and the sums.

    Arrays are (n,) except `state_power_w` (2, n): watts with the sun out and hidden. Angles and
    transmittances are NaN at night. `sun_out_prob` is the probability that mixes the two.
    `rated_clear_wh` less all of `losses_wh` is `battery_wh`; `charge` is None without a battery.
    """

    segments: Segments
    sky: str
    sun_azimuth_deg: FloatArray
    sun_elevation_deg: FloatArray
    incidence_deg: FloatArray
    ghi_wm2: FloatArray
    dni_wm2: FloatArray
    dhi_wm2: FloatArray
    beam_transmittance_frac: FloatArray
    sky_view_frac: FloatArray
    plane_wm2: FloatArray
    cell_c: FloatArray
    air_c: FloatArray
    power_w: FloatArray
    energy_wh: FloatArray
    open_sky_w: FloatArray
    clear_sky_w: FloatArray
    state_power_w: FloatArray
    sun_out_prob: FloatArray
    legs: tuple[LegResult, ...]
    totals: LegResult
    driving_wh: float
    stopped_wh: float
    skies: tuple[SkyResult, ...] = ()
    hours: tuple[HourResult, ...] = ()
    rated_clear_wh: float | None = None
    losses_wh: Mapping[str, float] = field(default_factory=dict)
    battery_wh: float | None = None
    charge: Charge | None = None
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        n = self.segments.count
        per_segment = (
            "sun_azimuth_deg sun_elevation_deg incidence_deg ghi_wm2 dni_wm2 dhi_wm2 "
            "beam_transmittance_frac sky_view_frac plane_wm2 cell_c air_c power_w energy_wh "
            "open_sky_w clear_sky_w sun_out_prob"
        ).split()
        lock_fields(self, {**dict.fromkeys(per_segment, (n,)), "state_power_w": (2, n)})
