"""Cell temperature of a panel on a moving vehicle, its efficiency in weak light, and its direct-current power.

The roof panel is cooled by the air that streams over it. Faiman's law was fitted to panels standing in
light wind; over a roof at speed it would cool far too well, so the wind it sees is a share of the air
speed and is capped.
"""

from collections.abc import Mapping
from math import isnan, sqrt
from types import MappingProxyType
from typing import NamedTuple

from routesolar.physics.compiled import inlined
from routesolar.physics.elementary import exponential_less_one, logarithm, sine_cosine

U1 = 6.84  # W/m2 per C per m/s of wind; Faiman 2008, for a panel with air on both faces


class Cooling(NamedTuple):
    """Heat loss in W/m2 per C: in still air, and more per m/s of wind."""

    u0: float
    u1: float


# Air gap: Faiman 2008. Flush (glued to the roof): 15 in still air is judgement, near SAPM's insulated back
# (King et al. 2004); wind reaches one face of the two, so half of Faiman's slope.
MOUNTINGS: Mapping[str, Cooling] = MappingProxyType(
    {"air-gap": Cooling(25.0, U1), "flush": Cooling(15.0, U1 / 2)}
)
ROOF_AIR_SHARE = 0.6  # of the air speed that reaches the panel through the roof's boundary layer; judgement
ROOF_AIR_CAP_MPS = 9.0  # above it Faiman's straight line outruns a turbulent plate's v^0.8
DRIVING_TIME_CONSTANT_S = 180.0  # physics of thin panels: 2-5 min in the airflow of driving; judgement
PARKED_TIME_CONSTANT_S = 450.0  # 5-10 min parked; judgement
RATED_WM2 = 1000.0  # standard test conditions
RATED_C = 25.0


class WeakLight(NamedTuple):
    """How efficiency follows the light, over that at 1000 W/m2: 1 + k1 ln G + k2 ln2 G, G in 1000 W/m2."""

    k1: float
    k2: float


# Chatzipanagi et al. 2025, Prog. Photovolt. 33:905, doi:10.1002/pip.3926, as pvlib 0.16 lists them ("pvgis6"):
# fitted to panels of recent years. "ideal" is as efficient in weak light as in full sun.
CELLS: Mapping[str, WeakLight] = MappingProxyType(
    {
        "silicon": WeakLight(-0.0067560, -0.016444),
        "cis": WeakLight(-0.011001, -0.029734),
        "cdte": WeakLight(-0.020644, -0.035136),
        "ideal": WeakLight(0.0, 0.0),
    }
)


def heat_loss(mounting: str) -> Cooling:
    """Return the heat loss of a mounting.

    Raises:
        ValueError: `mounting` is not a key of MOUNTINGS.
    """
    if mounting not in MOUNTINGS:
        raise ValueError(f"mounting is {mounting!r}; use one of: {', '.join(MOUNTINGS)}")
    return MOUNTINGS[mounting]


@inlined
def air_speed_mps(vehicle_mps: float, heading_deg: float, wind_mps: float, wind_from_deg: float) -> float:
    """Return the speed of the air past the vehicle in m/s: |wind - vehicle velocity|.

    A wind of unknown direction (NaN) adds in quadrature, the root mean square over all directions.
    Angles are clockwise from north; a wind from where the nose points is a headwind.
    """
    squares = vehicle_mps * vehicle_mps + wind_mps * wind_mps
    if isnan(wind_from_deg):
        return sqrt(squares)
    _, along = sine_cosine(wind_from_deg - heading_deg)
    return sqrt(max(0.0, squares + 2.0 * vehicle_mps * wind_mps * along))


@inlined
def faiman_c(plane_wm2: float, air_c: float, wind_mps: float, u0: float, u1: float) -> float:
    """Return the steady panel temperature in C.

    Faiman 2008, Prog. Photovolt. 16:307, Ta + G / (u0 + u1 v). Fitted in light wind; no irradiance
    gives the air's temperature.
    """
    return air_c + plane_wm2 / (u0 + u1 * wind_mps)


@inlined
def cell_temperature_c(plane_wm2: float, air_c: float, air_mps: float, u0: float, u1: float) -> float:
    """Return the steady cell temperature of a roof panel in C, with the vehicle's own airflow.

    Faiman's law with the wind min(0.6 air speed, 9 m/s). `u0` and `u1` come from `heat_loss`.
    """
    return faiman_c(plane_wm2, air_c, min(ROOF_AIR_SHARE * air_mps, ROOF_AIR_CAP_MPS), u0, u1)


@inlined
def lag_fracs(duration_s: float, time_constant_s: float) -> tuple[float, float]:
    """Return the share of the way to its steady temperature still to go for a panel, at the end and on average.

    Exact first-order lag for a steady forcing: two halves equal the whole. The average, not the end, belongs
    to a segment's energy, so that the result does not depend on the step.
    """
    steps = duration_s / time_constant_s
    if steps <= 0.0:
        return 1.0, 1.0
    gone = -exponential_less_one(-steps)
    return 1.0 - gone, gone / steps


@inlined
def lagged_c(previous_c: float, steady_c: float, to_go_frac: float) -> float:
    """Return the cell temperature in C on the way from `previous_c` to `steady_c`, with a share still to go."""
    return steady_c + (previous_c - steady_c) * to_go_frac


@inlined
def dc_power_w(rated_w: float, effective_wm2: float, cell_c: float, coefficient_pct_per_c: float) -> float:
    """Return the panel's direct-current power in W, never negative; exactly 0 without light.

    Power proportional to the light that enters the cells, P = Pstc G/1000 (1 + g (Tc - 25)); what weak light
    costs beyond that is `weak_light_frac`.
    """
    warmth = 1.0 + coefficient_pct_per_c / 100.0 * (cell_c - RATED_C)
    return max(0.0, rated_w * (1.0 / RATED_WM2) * effective_wm2 * warmth)


@inlined
def weak_light_frac(effective_wm2: float, k1: float, k2: float) -> float:
    """Return a cell's efficiency over that at 1000 W/m2 and the same temperature; 0 without light.

    Huld et al. 2011, Sol. Energy Mater. Sol. Cells 95:3359, doi:10.1016/j.solmat.2011.07.026, without its terms
    of temperature, whose coefficient is the panel's own. `k1` and `k2` come from CELLS. Fitted from some 50
    W/m2 up; it falls on to 0 at less than 1 W/m2 (silicon) and is held there.
    """
    if effective_wm2 <= 0.0:
        return 0.0
    x = logarithm(effective_wm2 * (1.0 / RATED_WM2))
    return max(0.0, 1.0 + k1 * x + k2 * x * x)
