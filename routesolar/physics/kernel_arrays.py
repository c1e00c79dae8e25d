"""What the fused loop takes and gives: arrays over departures, segments, panel faces and skies, by name."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Drive(NamedTuple):
    """Where the vehicle is and when: (n,) heading, speed; (d, n) duration."""

    heading_deg: Array
    speed_mps: Array
    duration_s: Array


class OpenSky(NamedTuple):
    """Sun and clear sky without anything in the way, all (d, n)."""

    azimuth_deg: Array
    elevation_deg: Array
    extra_wm2: Array
    ghi_wm2: Array
    dni_wm2: Array
    dhi_wm2: Array


class Shade(NamedTuple):
    """What trees, terrain and roof load leave: beam (d, n), and each face's dome (f, d or 1, n).

    `lit_frac` (d, n) is the beam's mean along the segment weighted by itself: what is lit where light falls.
    `sky_view_frac` is of light that comes evenly from the dome. Of a cloudless sky's diffuse light,
    `around_sun_frac` is what is left of the part from around the sun, `clear_view_frac` of the rest; each is
    (f, d or 1, n).
    """

    beam_frac: Array
    lit_frac: Array
    sky_view_frac: Array
    around_sun_frac: Array
    clear_view_frac: Array


class Faces(NamedTuple):
    """f flat faces: normal (f, d or 1, n, 3), watts in use (f, n), modifiers (f, d or 1, n), and facts (f,).

    `cooling` (f, 2) is the heat loss in still air and per m/s of wind.

    `box_beam_frac` (f, d or 1, n or 1) and `box_dome_frac` (f,) are what boxes on the roof leave of the
    beam's and the dome's power.
    """

    normal: Array
    rated_w: Array
    sky_modifier: Array
    ground_modifier: Array
    coefficient_pct_per_c: Array
    cooling: Array
    bypass_blocks: NDArray[np.int64]
    box_beam_frac: Array
    box_dome_frac: Array


class States(NamedTuple):
    """s skies: `cloud` (s, d or 1, n or 1, 4) and `air` (s, d or 1, n or 1, 3).

    cloud holds the sun-out probability, global and beam share of clear with the sun out, and global
    share with it hidden; air holds temperature, wind speed and where the wind is from (NaN: unknown).
    """

    cloud: Array
    air: Array


class Chain(NamedTuple):
    """Numbers of the electrical chain; neutral values switch a loss off for the ledger of losses.

    `reflection_weight`, `temperature_weight` and `uneven_weight` (what uneven light costs) are 1 in use;
    zero weights, zero soiling and wiring, unit efficiency and an infinite limit are neutral. The curve is
    the controller's efficiency over its share of `full_load_w`.
    """

    albedo_frac: float
    reflection_weight: float
    temperature_weight: float
    uneven_weight: float
    soiling_frac: float
    wiring_frac: float
    max_input_w: float
    start_up_w: float
    full_load_w: float
    curve_load_frac: Array
    curve_efficiency_frac: Array


class Watts(NamedTuple):
    """Watts at the battery terminals in the two sky states, (s, d, n), and the first face's plane and cell.

    `plane_wm2` is after shade and before reflection; it and `cell_c`, (d, n), are those of the first sky,
    weighted over its states.
    """

    out_w: Array
    hidden_w: Array
    plane_wm2: Array
    cell_c: Array
