"""The equipment: panels, controller, battery, alternator and loads."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from math import inf, isnan, nan
from types import MappingProxyType
from typing import NamedTuple

from routesolar.errors import UsageError
from routesolar.trip.loads import Load, wrong_reserves
from routesolar.trip.ranges import check_ranges
from routesolar.trip.route import SourceFile

BY_KIND = nan  # "as usual for the battery's kind"
CHARGING_V = 13.6  # a 12 V system while it charges; common practice
DENSEST_WM2 = 300.0  # rated watts a square metre beyond any panel that can be bought (30 %)
MOUNTINGS = ("air-gap", "flush")
USES = ("always", "stopped")
AIMS = ("fixed", "sun")
CELL_KINDS = ("silicon", "cis", "cdte", "ideal")
SEVERAL_MISMATCH_FRAC = 0.02  # panels on one controller; Dobos 2014, NREL/TP-6A20-62641
YIELDS = ("alternator", "solar")
PLACES = ("outside", "vehicle", "heated")
HEATER_PER_WH = 0.04  # watts: 50 W in a battery of 1,280 Wh; common practice, no source
HEATED_TO_C = 5.0


def _check_word(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise UsageError(f"{name} is {value!r}; use one of: {', '.join(allowed)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One panel. `facing_deg` is where it leans, clockwise from the nose; tilt is from the roof's plane.

    Length lies along the vehicle, width across; `forward_m` and `right_m` place the panel's middle
    against the middle of the roof. `curvature_deg` is how far a flexible panel's face turns from its
    left edge to its right edge, bent over the roof; 0 is flat. A panel in use "stopped" works only while
    parked; with aim "sun" it is set out loose and turned square to the sun every `aim_every_s`. `cells` says
    how it fares in weak light ("ideal": no worse than in full sun). It loses `ageing_frac_per_year` of its
    rating a year, half a percent by default (Jordan & Kurtz 2013, Prog. Photovolt. 21:12, the median rate).
    """

    name: str = "roof"
    rated_w: float
    length_m: float | None = None
    width_m: float | None = None
    temperature_coefficient_pct_per_c: float = -0.35
    tilt_deg: float = 0.0
    facing_deg: float = 0.0
    mounting: str = "air-gap"
    cells: str = "silicon"
    age_years: float = 0.0
    ageing_frac_per_year: float = 0.005
    curvature_deg: float = 0.0
    bypass_blocks: int = 3
    use: str = "always"
    aim: str = "fixed"
    aim_every_s: float = 3600.0
    forward_m: float = 0.0
    right_m: float = 0.0
    above_roof_m: float = 0.0

    def __post_init__(self) -> None:
        check_ranges(self, tuple(self.__dataclass_fields__))
        _check_word("mounting", self.mounting, MOUNTINGS)
        _check_word("cells", self.cells, CELL_KINDS)
        _check_word("use", self.use, USES)
        _check_word("aim", self.aim, AIMS)
        if self.aim == "sun" and self.use != "stopped":
            raise UsageError('a panel with aim "sun" is set out by hand: it needs use = "stopped"')
        if self.length_m is not None and self.width_m is not None:
            density = self.rated_w / (self.length_m * self.width_m)
            if density > DENSEST_WM2:
                raise UsageError(
                    f"rated_w on length_m x width_m makes {density:.0f} W/m2, {density / 10:.0f} % of the sun; "
                    f"no panel reaches {DENSEST_WM2:.0f}, so one of the three is wrong"
                )

    @property
    def age_loss_frac(self) -> float:
        """The share of the rating lost to age; all of it at most."""
        return min(1.0, self.age_years * self.ageing_frac_per_year)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofBox:
    """Something on the roof that throws a shadow: its sides lie along and across the vehicle.

    Length along, width across, height above the roof; `forward_m`, `right_m` place its middle.
    """

    name: str = "box"
    length_m: float
    width_m: float
    height_m: float
    forward_m: float = 0.0
    right_m: float = 0.0

    def __post_init__(self) -> None:
        check_ranges(self, tuple(self.__dataclass_fields__))


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """The charge controller.

    `max_input_a` counts at the battery's charging voltage. `efficiency_curve` holds points (share of
    full load, efficiency), rising in load; where it is given, it stands for `efficiency_frac`. Full load
    is the input limit, or the panels' rating where there is none.
    """

    efficiency_frac: float = 0.97
    max_input_w: float = inf
    max_input_a: float = inf
    start_up_w: float = 0.0
    efficiency_curve: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        check_ranges(self, tuple(self.__dataclass_fields__))
        check_curve(self.efficiency_curve)
        if self.start_up_w >= self.max_input_w:
            raise UsageError(
                f"start_up_w {self.start_up_w:g} is not below max_input_w {self.max_input_w:g}; "
                "the controller would never start"
            )

    @property
    def curve(self) -> tuple[tuple[float, float], ...]:
        """The efficiency's points; a single one if it is the same at every load."""
        return self.efficiency_curve or ((1.0, self.efficiency_frac),)


def check_curve(points: tuple[tuple[float, float], ...]) -> None:
    """Raise UsageError unless the points rise in load and give shares."""
    if any(not (0.0 <= load <= 1.0 and 0.0 < efficiency <= 1.0) for load, efficiency in points):
        raise UsageError("each point is [share of full load, efficiency], both at most 1")
    if any(later[0] <= earlier[0] for earlier, later in pairwise(points)):
        raise UsageError("the points' loads must rise")


class BatteryKind(NamedTuple):
    """What is usual for a kind of battery."""

    reserve_soc_frac: float
    charge_per_hour_frac: float  # largest charge power, as a share of the capacity an hour
    round_trip_frac: float
    taper_from_soc_frac: float
    cold_limit_c: float
    self_discharge_frac_per_month: float


# Lithium: iron phosphate, half its capacity an hour, taper from .90, round trip .92-.96, 2-3 % a month, no
# charge below freezing. Lead: absorbent glass mat, a fifth an hour, taper from .8, round trip .80-.85,
# half of it usable. Common practice; flooded lead returns about .70.
BATTERY_KINDS: Mapping[str, BatteryKind] = MappingProxyType(
    {
        "lithium": BatteryKind(0.2, 0.5, 0.94, 0.90, 0.0, 0.025),
        "lead": BatteryKind(0.5, 0.2, 0.82, 0.80, -inf, 0.03),
    }
)


def _left_out(value: object) -> bool:
    return value is None or (isinstance(value, float) and isnan(value))


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """The battery; what is left out is as usual for its kind (BATTERY_KINDS).

    `voltage_v` is the voltage while charging. Loads are served down to `reserve_soc_frac`. The whole
    round trip's loss is counted when charging. Below `cold_limit_c` nothing is charged.

    How warm it is follows the air slowly from where it is `placed`: "outside" in its case, within the
    "vehicle", or "heated", outside with a heater of `heater_w` of its own that keeps it at `heated_to_c` and
    draws from it. A vehicle's interior is as warm as the air over the day, and at least `cabin_c` where it is
    heated. `temperature_c` says once for all how warm the battery is.
    """

    capacity_wh: float
    kind: str = "lithium"
    voltage_v: float = CHARGING_V
    start_soc_frac: float = 0.6
    reserve_soc_frac: float = BY_KIND
    max_charge_w: float = BY_KIND
    round_trip_frac: float = BY_KIND
    taper_from_soc_frac: float = BY_KIND
    cold_limit_c: float = BY_KIND
    placed: str = "vehicle"
    cabin_c: float | None = None
    heater_w: float | None = None
    heated_to_c: float | None = None
    temperature_c: float | None = None
    self_discharge_frac_per_month: float = BY_KIND
    parasitic_w: float = 0.0

    def __post_init__(self) -> None:
        _check_word("kind", self.kind, tuple(BATTERY_KINDS))
        _check_word("placed", self.placed, PLACES)
        given = tuple(
            name
            for name in self.__dataclass_fields__
            if name not in ("kind", "placed") and not _left_out(getattr(self, name))
        )
        check_ranges(self, given)
        self._check_place()
        usual = BATTERY_KINDS[self.kind]
        filled = usual._asdict() | {"max_charge_w": usual.charge_per_hour_frac * self.capacity_wh}
        for name in self.__dataclass_fields__:
            if name in filled and name not in given:
                object.__setattr__(self, name, filled[name])
        if self.parasitic_w >= self.max_charge_w:
            raise UsageError(
                f"parasitic_w {self.parasitic_w:g} is not below max_charge_w {self.max_charge_w:g}; "
                "such a battery could never be charged"
            )

    def _check_place(self) -> None:
        """Raise UsageError where what is said of its warmth does not go together."""
        heating = [name for name in ("heater_w", "heated_to_c") if getattr(self, name) is not None]
        if heating and self.placed != "heated":
            raise UsageError(f'{" and ".join(heating)} without a heater; say placed = "heated"')
        if self.cabin_c is not None and self.placed != "vehicle":
            raise UsageError('cabin_c is a heated interior of the vehicle; it needs placed = "vehicle"')
        told = [name for name in ("cabin_c", *heating) if getattr(self, name) is not None]
        if self.temperature_c is not None and (told or self.placed == "heated"):
            raise UsageError(
                "temperature_c says how warm the battery is; leave it out where its place or heater tells"
            )

    @property
    def heating_w(self) -> float:
        """The power of the battery's own heater in W, 0 without one."""
        if self.placed != "heated":
            return 0.0
        return HEATER_PER_WH * self.capacity_wh if self.heater_w is None else self.heater_w

    @property
    def kept_c(self) -> float:
        """The temperature that the battery's own heater keeps, in C."""
        return HEATED_TO_C if self.heated_to_c is None else self.heated_to_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternator:
    """Charging by the engine, only while it drives.

    `charge_w` arrives at the battery's terminals. `max_input_w` is what the vehicle can spare before the
    charger's `efficiency_frac`. When the battery cannot take both, `yields_first` gives way.
    """

    charge_w: float
    max_input_w: float = inf
    efficiency_frac: float = 0.88
    yields_first: str = "alternator"

    def __post_init__(self) -> None:
        check_ranges(self, tuple(self.__dataclass_fields__))
        _check_word("yields_first", self.yields_first, YIELDS)

    @property
    def delivered_w(self) -> float:
        """Watts at the battery's terminals while the engine runs."""
        return min(self.charge_w, self.max_input_w * self.efficiency_frac)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """All that turns irradiance into watts at the battery terminals, and all that lives from them.

    `mismatch_frac` is what panels on one controller lose by being unlike; left out, nothing with one panel,
    whose label holds its own cells' mismatch, and SEVERAL_MISMATCH_FRAC with several.
    """

    panels: tuple[Panel, ...]
    controller: Controller = Controller()
    soiling_frac: float = 0.03
    mismatch_frac: float = BY_KIND
    wiring_frac: float = 0.02
    name: str = "vehicle"
    roof_height_m: float = 2.4
    albedo_frac: float = 0.20
    roof_boxes: tuple[RoofBox, ...] = ()
    battery: Battery | None = None
    alternator: Alternator | None = None
    loads: tuple[Load, ...] = ()
    file: SourceFile | None = field(default=None, compare=False)  # that it was read from

    def __post_init__(self) -> None:
        if isnan(self.mismatch_frac):
            usual = SEVERAL_MISMATCH_FRAC if len(self.panels) > 1 else 0.0
            object.__setattr__(self, "mismatch_frac", usual)
        check_ranges(self, ("soiling_frac", "mismatch_frac", "wiring_frac", "roof_height_m", "albedo_frac"))
        if not self.panels:
            raise UsageError("a rig needs at least one panel")
        wrong = self.battery is not None and wrong_reserves(self.loads, self.battery.reserve_soc_frac)
        if wrong:
            raise UsageError(wrong)

    @property
    def rated_w(self) -> float:
        """The panels' ratings together, in W."""
        return sum(panel.rated_w for panel in self.panels)

    @property
    def input_limit_w(self) -> float:
        """The most the controller takes in, in W: its watts, or its amps at the charging voltage."""
        volts = CHARGING_V if self.battery is None else self.battery.voltage_v
        return min(self.controller.max_input_w, self.controller.max_input_a * volts)

    @property
    def full_load_w(self) -> float:
        """What the efficiency curve's share 1 means, in W."""
        return self.rated_w if self.input_limit_w == inf else self.input_limit_w
