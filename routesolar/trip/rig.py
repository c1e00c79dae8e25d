"""The equipment: panels, controller and losses between the sun and the battery terminals."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One panel. `facing_deg` is where it leans, clockwise from the nose; tilt is from the roof's plane."""

    name: str = "roof"
    rated_w: float
    length_m: float | None = None
    width_m: float | None = None
    temperature_coefficient_pct_per_c: float = -0.35
    tilt_deg: float = 0.0
    facing_deg: float = 0.0
    mounting: str = "air-gap"


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """The charge controller: one efficiency and an input limit."""

    efficiency_frac: float = 0.97
    max_input_w: float = float("inf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """All that turns irradiance into watts at the battery terminals."""

    panels: tuple[Panel, ...]
    controller: Controller = Controller()
    soiling_frac: float = 0.03
    wiring_frac: float = 0.02
    name: str = "vehicle"
    roof_height_m: float = 2.4
    albedo_frac: float = 0.20
