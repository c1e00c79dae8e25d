"""What came out: one drive with every array and its sums per leg, or many departures reduced."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from importlib import import_module
from typing import Any

from routesolar.trip.arrays import FloatArray, lock_fields
from routesolar.trip.clock import iso_local
from routesolar.trip.drawable import Drawable
from routesolar.trip.noun import Noun, Result
from routesolar.trip.segments import Segments

WEEKDAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()


@dataclass(frozen=True, slots=True, kw_only=True)
class LegResult:
    """Sums over one leg (or the whole trip, as totals). None: undefined or not asked for.

    Energies are watt-hours at the battery terminals. `open_sky_wh` is the same chain without trees
    and terrain, `clear_sky_wh` also without clouds. Expected energies are means over the clouds among the trees
    as stated. Percentiles are over all that is not known, clouds and trees together; `energy_clouds_low_wh` and
    `energy_clouds_high_wh` are the 10th and 90th of the clouds alone, `energy_shade_low_wh` and
    `energy_shade_high_wh` those of the trees alone, None where trees are not in doubt.
    The battery's terms are means over the days of the sky:
    soc_end less soc_start, times capacity = energy + alternator + shortfall - load - idle - charge_loss
    - battery_cold - battery_full.
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
    energy_low_wh: float | None = None
    energy_mid_wh: float | None = None
    energy_high_wh: float | None = None
    energy_clouds_low_wh: float | None = None
    energy_clouds_high_wh: float | None = None
    energy_shade_low_wh: float | None = None
    energy_shade_high_wh: float | None = None
    alternator_wh: float | None = None
    load_wh: float | None = None
    shortfall_wh: float | None = None
    idle_wh: float | None = None
    charge_loss_wh: float | None = None
    battery_cold_wh: float | None = None
    battery_full_wh: float | None = None
    soc_start_frac: float | None = None
    soc_end_frac: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SkyResult:
    """The whole trip's energy under one named sky."""

    sky: str
    energy_wh: float
    energy_low_wh: float | None = None
    energy_high_wh: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HourResult:
    """Energy within one local clock hour, driving and stopped apart.

    `lasts_prob` is the chance that up to its end no load has lacked power; None without a battery.
    """

    start_utc_s: float
    driving_wh: float
    stopped_wh: float
    load_wh: float | None = None
    lasts_prob: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayResult:
    """What one local calendar day of a trip brings and uses; None: no battery, or it does not happen that day.

    The days' expected energies add up to the trip's exactly; `energy_low_wh` and `energy_high_wh` are the 10th
    and 90th percentile of this day alone, which do not. Times are UTC seconds within the trip: dawn and dusk
    are when the sun's upper limb rises first and sets last that day. The battery's terms are means over the
    possible skies; nine times in ten the day's lowest charge lies above `lowest_soc_poor_frac`. A segment over
    midnight is shared by time. `lasts_prob` is the chance that up to the day's end no load has lacked power.
    """

    date: str
    start_utc_s: float
    end_utc_s: float
    dawn_utc_s: float | None
    dusk_utc_s: float | None
    energy_wh: float
    energy_low_wh: float
    energy_high_wh: float
    driving_wh: float
    stopped_wh: float
    alternator_wh: float | None = None
    load_wh: float | None = None
    shortfall_wh: float | None = None
    idle_wh: float | None = None
    charge_loss_wh: float | None = None
    battery_cold_wh: float | None = None
    battery_full_wh: float | None = None
    soc_start_frac: float | None = None
    soc_dawn_frac: float | None = None
    soc_dusk_frac: float | None = None
    soc_end_frac: float | None = None
    lowest_soc_frac: float | None = None
    lowest_utc_s: float | None = None
    lowest_soc_poor_frac: float | None = None
    lasts_prob: float | None = None

    @property
    def weekday(self) -> str:
        """The day's name in English, "Tuesday"."""
        return WEEKDAYS[date.fromisoformat(self.date).weekday()]

    @property
    def used_wh(self) -> float | None:
        """What the loads really get; None without a battery."""
        return None if self.load_wh is None or self.shortfall_wh is None else self.load_wh - self.shortfall_wh


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadResult:
    """What becomes of one load on a trip: what it asks for, misses and when; times UTC seconds, None if never.

    Watt-hours and seconds are means over the possible skies; `*_poor_*` is not exceeded nine times in ten;
    it is off by `first_off_poor_utc_s` one time in ten, by `first_off_utc_s` half of the times.
    `lasts_prob` is the chance that it never lacks power.
    """

    name: str
    keep: int
    reserve_soc_frac: float
    load_wh: float
    shortfall_wh: float
    shortfall_poor_wh: float
    off_s: float
    off_poor_s: float
    first_off_utc_s: float | None
    first_off_poor_utc_s: float | None
    lasts_prob: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Charge(Noun):
    """The battery along one drive, over the possible days of its sky; times are UTC seconds, None if never.

    `soc_frac` (n,) is the mean over the days at the end of each segment; nine days in ten lie above
    `soc_poor_frac`, nine in ten of the days' lowest charges above `lowest_soc_poor_frac`. Watts (n,) and
    watt-hours are means; `load_share_frac` is what the sun carries of the loads, at once or stored, None
    without loads. `full_prob` and `short_prob` are the chances that the battery fills and that loads are cut
    off at all, `short_s` for how long on average, `shortfall_poor_wh` what they miss at most on nine days in
    ten; `first_*` is by when it has come on half of the days, `first_short_poor_utc_s` on one in ten.
    `cold_s` is for how long the battery is too cold to charge, `coldest_c` its least temperature, `heater_wh`
    what its own heater draws. `alternator_needed_w` is how much the engine must charge with while driving so
    that no load falls short on nine days in ten, `alternator_needed_wh` what it then gives; None without an
    alternator or where no engine suffices. `loads` are in the order in which they are kept on.
    """

    capacity_wh: float
    reserve_soc_frac: float
    soc_frac: FloatArray
    soc_poor_frac: FloatArray
    alternator_w: FloatArray
    load_w: FloatArray
    stored_wh: float
    drawn_wh: float
    cold_s: float
    coldest_c: float
    heater_wh: float
    load_share_frac: float | None
    lowest_soc_frac: float
    lowest_utc_s: float
    lowest_soc_poor_frac: float
    full_prob: float
    first_full_utc_s: float | None
    first_reserve_utc_s: float | None
    short_prob: float
    short_s: float
    shortfall_poor_wh: float
    first_short_utc_s: float | None
    first_short_poor_utc_s: float | None
    alternator_needed_w: float | None
    alternator_needed_wh: float | None
    loads: tuple[LoadResult, ...] = ()

    def __post_init__(self) -> None:
        n = (len(self.soc_frac),)
        lock_fields(self, dict.fromkeys(("soc_frac", "soc_poor_frac", "alternator_w", "load_w"), n))


@dataclass(frozen=True, slots=True, kw_only=True)
class SetOut:
    """A loose panel's rating and what it would add at the battery terminals over the trip, in Wh."""

    rated_w: float
    added_wh: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Harvest(Result):
    """One departure: arrays over n segments as segments.csv has them, and the sums.

    Arrays are (n,) except `state_power_w` (2, n): watts with the sun out and hidden. Angles and
    transmittances are NaN at night. `sun_out_prob` is the probability that mixes the two.
    `rated_clear_wh` less all of `losses_wh` is `battery_wh`; `charge` is None without a battery.
    `set_out` is None without a stop or with a loose panel in the rig. `drive` is what it was computed from.
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
    days: tuple[DayResult, ...] = ()
    rated_clear_wh: float | None = None
    losses_wh: Mapping[str, float] = field(default_factory=dict)
    battery_wh: float | None = None
    charge: Charge | None = None
    set_out: SetOut | None = None
    drive: Drawable | None = field(default=None, repr=False)
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def drives(self) -> tuple[Drawable, ...]:
        """The drive it was computed from, where that was kept."""
        return () if self.drive is None else (self.drive,)

    def __repr__(self) -> str:
        when = iso_local(float(self.segments.departure_utc_s[0]), self.segments.time_zone)
        road = self.segments.route_name or "drive"
        return (
            f"<Harvest {road} {when}: {self.totals.energy_wh:.0f} Wh under {self.sky} sky, "
            f"{len(self.legs)} legs, {self.segments.count} segments>"
        )

    def legs_frame(self) -> Any:
        """Return the legs as a pandas table with the columns of legs.csv; times bear their zone."""
        return import_module("routesolar.trips.frames").legs_frame(self)

    def days_frame(self) -> Any:
        """Return a row a local calendar day, as a pandas table with the columns of days.csv."""
        return import_module("routesolar.trips.frames").days_frame(self)

    def __post_init__(self) -> None:
        n = self.segments.count
        per_segment = (
            "sun_azimuth_deg sun_elevation_deg incidence_deg ghi_wm2 dni_wm2 dhi_wm2 "
            "beam_transmittance_frac sky_view_frac plane_wm2 cell_c air_c power_w energy_wh "
            "open_sky_w clear_sky_w sun_out_prob"
        ).split()
        lock_fields(self, {**dict.fromkeys(per_segment, (n,)), "state_power_w": (2, n)})
