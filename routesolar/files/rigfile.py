"""Read a rig file; write a commented one to start from."""

import re
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from routesolar.errors import UsageError
from routesolar.files.reading import PathText, printable, read_whole, source_file
from routesolar.files.toml_checked import TomlTable, read_checked
from routesolar.limits import limit_of
from routesolar.trip.loads import Load, clock_windows_s, wrong_reserves
from routesolar.trip.ranges import RANGES, complaint
from routesolar.trip.rig import Alternator, Battery, Controller, Panel, Rig, RoofBox, check_curve

NAME_LENGTH = 60
_DURATION = re.compile(r"(\d+(?:\.\d+)?)\s*(s|min|h)")
_Point = Annotated[list[float], Field(min_length=2, max_length=2)]
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}


class _RigTable(TomlTable):
    """A table whose numbers keep to the equipment's ranges and whose names are plain text."""

    @field_validator("*")
    @classmethod
    def _in_range(cls, value: Any, info: ValidationInfo) -> Any:
        key = str(info.field_name)
        if key in RANGES and value is not None and (wrong := complaint(key, value)):
            raise ValueError(wrong)
        return printable(value, NAME_LENGTH) if key == "name" else value

    def given(self) -> dict[str, Any]:
        """Return the keys that stand in the file; the nouns know the defaults of the others."""
        return self.model_dump(exclude_unset=True)


class _Vehicle(_RigTable):
    name: str = ""
    roof_height_m: float | None = None


class _Panel(_RigTable):
    rated_w: float
    name: str = ""
    length_m: float | None = None
    width_m: float | None = None
    temperature_coefficient_pct_per_c: float | None = None
    tilt_deg: float | None = None
    facing_deg: float | None = None
    mounting: Literal["air-gap", "flush"] = "air-gap"
    cells: Literal["silicon", "cis", "cdte", "ideal"] = "silicon"
    age_years: float | None = None
    ageing_frac_per_year: float | None = None
    curvature_deg: float | None = None
    bypass_blocks: int | None = None
    use: Literal["always", "stopped"] = "always"
    aim: Literal["fixed", "sun"] = "fixed"
    aim_every: str | None = None
    forward_m: float | None = None
    right_m: float | None = None
    above_roof_m: float | None = None

    @field_validator("aim_every")
    @classmethod
    def _is_duration(cls, value: str) -> str:
        _duration_s(value)
        return value

    def noun(self) -> Panel:
        fields = self.given()
        if "aim_every" in fields:
            fields["aim_every_s"] = _duration_s(fields.pop("aim_every"))
        return Panel(**fields)

    @model_validator(mode="after")
    def _fits_together(self) -> "_Panel":
        self.noun()
        return self


class _RoofBox(_RigTable):
    length_m: float
    width_m: float
    height_m: float
    name: str = ""
    forward_m: float | None = None
    right_m: float | None = None


class _Controller(_RigTable):
    efficiency_frac: float | None = None
    max_input_w: float | None = None
    max_input_a: float | None = None
    start_up_w: float | None = None
    efficiency_curve: Annotated[list[_Point], Field(min_length=1)] | None = None

    @field_validator("efficiency_curve")
    @classmethod
    def _is_curve(cls, points: list[list[float]]) -> list[list[float]]:
        check_curve(tuple((load, efficiency) for load, efficiency in points))
        return points

    def noun(self) -> Controller:
        fields = self.given()
        if "efficiency_curve" in fields:
            fields["efficiency_curve"] = tuple((load, share) for load, share in fields["efficiency_curve"])
        return Controller(**fields)

    @model_validator(mode="after")
    def _fits_together(self) -> "_Controller":
        if self.efficiency_curve is not None and self.efficiency_frac is not None:
            raise ValueError("efficiency_frac and efficiency_curve say the same thing; keep one of them")
        self.noun()
        return self


class _Losses(_RigTable):
    soiling_frac: float | None = None
    mismatch_frac: float | None = None
    wiring_frac: float | None = None


class _Battery(_RigTable):
    capacity_wh: float
    kind: Literal["lithium", "lead"] = "lithium"
    voltage_v: float | None = None
    start_soc_frac: float | None = None
    reserve_soc_frac: float | None = None
    max_charge_w: float | None = None
    round_trip_frac: float | None = None
    taper_from_soc_frac: float | None = None
    cold_limit_c: float | None = None
    placed: Literal["outside", "vehicle", "heated"] = "vehicle"
    cabin_c: float | None = None
    heater_w: float | None = None
    heated_to_c: float | None = None
    temperature_c: float | None = None
    self_discharge_frac_per_month: float | None = None
    parasitic_w: float | None = None

    @model_validator(mode="after")
    def _fits_together(self) -> "_Battery":
        Battery(**self.given())
        return self


class _Alternator(_RigTable):
    charge_w: float
    max_input_w: float | None = None
    efficiency_frac: float | None = None
    yields_first: Literal["alternator", "solar"] = "alternator"


class _Load(_RigTable):
    power_w: float
    name: str = ""
    when: str = "always"
    keep: int | None = None
    reserve_soc_frac: float | None = None

    @field_validator("when")
    @classmethod
    def _is_time(cls, value: str) -> str:
        clock_windows_s(value)
        return value


class _RigFile(TomlTable):
    panel: Annotated[list[_Panel], Field(min_length=1)]
    vehicle: _Vehicle = Field(default_factory=_Vehicle)
    roof_box: list[_RoofBox] = Field(default_factory=list)
    controller: _Controller = Field(default_factory=_Controller)
    losses: _Losses = Field(default_factory=_Losses)
    battery: _Battery | None = None
    alternator: _Alternator | None = None
    load: list[_Load] = Field(default_factory=list)

    @field_validator("panel", "roof_box", "load", mode="before")
    @classmethod
    def _has_double_brackets(cls, value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, dict):
            raise ValueError(f"write [[{info.field_name}]] with double brackets; there may be several")
        return value

    @model_validator(mode="after")
    def _fits_together(self) -> "_RigFile":
        wrong = [*self._without_battery(), *self._unsized(), *self._counted_twice(), *self._dropped_wrongly()]
        if wrong:
            raise ValueError("; ".join(wrong))
        return self

    def _without_battery(self) -> list[str]:
        present = [name for name in ("[[load]]", "[alternator]") if getattr(self, name.strip("[]"))]
        if self.battery is not None or not present:
            return []
        return [f"{' and '.join(present)} without a battery; add [battery] with capacity_wh"]

    def _unsized(self) -> list[str]:
        shaded = [panel for panel in self.panel if self.roof_box and panel.aim == "fixed"]
        if all(panel.length_m and panel.width_m for panel in shaded):
            return []
        return ["[[roof_box]] shades panels, so every [[panel]] on the roof needs length_m and width_m"]

    def _dropped_wrongly(self) -> list[str]:
        if self.battery is None:
            return []
        loads = tuple(Load(**load.given()) for load in self.load)
        wrong = wrong_reserves(loads, Battery(**self.battery.given()).reserve_soc_frac)
        return [wrong] if wrong else []

    def _counted_twice(self) -> list[str]:
        """Return a complaint for each name whose loads draw at the same clock time."""
        times: dict[str, list[str]] = {}
        for load in self.load:
            if load.name and clock_windows_s(load.when):
                times.setdefault(load.name, []).append(load.when)
        wrong = []
        for name, whens in times.items():
            try:
                clock_windows_s(", ".join(whens))
            except ValueError:
                wrong.append(f'[[load]] "{name}" appears twice with overlapping clock times')
        return wrong


def read_rig(path: PathText) -> Rig:
    """Return the rig of a rig file; InputError that lists everything wrong with it."""
    path = Path(path)
    checked = read_checked(path, _RigFile)
    return Rig(
        file=source_file(path, read_whole(path, limit_of("trip or rig file"))),
        panels=tuple(panel.noun() for panel in checked.panel),
        roof_boxes=tuple(RoofBox(**box.given()) for box in checked.roof_box),
        controller=checked.controller.noun(),
        battery=None if checked.battery is None else Battery(**checked.battery.given()),
        alternator=None if checked.alternator is None else Alternator(**checked.alternator.given()),
        loads=tuple(Load(**load.given()) for load in checked.load),
        **checked.vehicle.given(),
        **checked.losses.given(),
    )


def panel_only_rig(rated_w: float) -> Rig:
    """Return a flat panel of a rating on the roof, and no battery; UsageError if that is no rating."""
    if wrong := complaint("rated_w", rated_w):
        raise UsageError(f"--panel {rated_w:g}W {wrong}; for example --panel 200W")
    return Rig(panels=(Panel(rated_w=rated_w),))


def commented_rig() -> str:
    """Return the text of a rig file to start from: every key, its default and where that comes from."""
    return files("routesolar.files").joinpath("rig_example.toml").read_text(encoding="utf-8")


def _duration_s(text: str) -> float:
    """Return seconds of a duration with its unit; ValueError that says how to write it."""
    match = _DURATION.fullmatch(text.strip())
    if match is None:
        raise ValueError('write a duration with its unit, such as "60min"')
    seconds = float(match[1]) * _SECONDS[match[2]]
    if wrong := complaint("aim_every_s", seconds):
        raise ValueError(wrong)
    return seconds
