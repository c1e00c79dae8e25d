"""What the fused loop takes and gives: arrays over departures, segments, panel faces and skies, by name."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray


class Drive(NamedTuple):
    """Where the vehicle is and when: (n,) heading, speed; (d, n) duration."""

    heading_deg: FloatArray
    speed_mps: FloatArray
    duration_s: FloatArray


class OpenSky(NamedTuple):
    """Sun and clear sky without anything in the way, all (d, n)."""

    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    extra_wm2: FloatArray
    ghi_wm2: FloatArray
    dni_wm2: FloatArray
    dhi_wm2: FloatArray


class ShadeOnFaces(NamedTuple):
    """What trees, terrain and roof load leave: beam (d, n), and each face's dome (f, d or 1, n).

    `lit_frac` (d, n) is the beam's mean along the segment weighted by itself: what is lit where light falls.
    `sky_view_frac` is of light that comes evenly from the dome. Of a cloudless sky's diffuse light,
    `around_sun_frac` is what is left of the part from around the sun, `clear_view_frac` of the rest; each is
    (f, d or 1, n).
    """

    beam_frac: FloatArray
    lit_frac: FloatArray
    sky_view_frac: FloatArray
    around_sun_frac: FloatArray
    clear_view_frac: FloatArray


class Faces(NamedTuple):
    """f flat faces: normal (f, d or 1, n, 3), watts in use (f, n), modifiers (f, d or 1, n), and facts (f,).

    `cooling` (f, 2) is the heat loss in still air and per m/s of wind, `weak_light` (f, 2) what
    `cells.weak_light_frac` takes, `age_frac` (f,) the share of the rating lost to age.

    `box_beam_frac` (f, d or 1, n or 1) and `box_dome_frac` (f,) are what boxes on the roof leave of the
    beam's and the dome's power.
    """

    normal: FloatArray
    rated_w: FloatArray
    sky_modifier: FloatArray
    ground_modifier: FloatArray
    coefficient_pct_per_c: FloatArray
    cooling: FloatArray
    weak_light: FloatArray
    age_frac: FloatArray
    bypass_blocks: NDArray[np.int64]
    box_beam_frac: FloatArray
    box_dome_frac: FloatArray


class States(NamedTuple):
    """Skies, each field (s or 1, d or 1, n or 1): of length 1 along what is the same for all.

    The sun-out probability, the clear-sky index of global and beam irradiance with the sun unobscured, and of
    global irradiance with it obscured; air temperature, wind speed and where the wind is from (NaN: unknown).
    """

    sun_out_prob: FloatArray
    unobscured_index: FloatArray
    unobscured_beam_index: FloatArray
    obscured_index: FloatArray
    air_c: FloatArray
    wind_mps: FloatArray
    wind_from_deg: FloatArray


class Chain(NamedTuple):
    """Numbers of the electrical chain; neutral values switch a loss off for the ledger of losses.

    `reflection_weight`, `weak_light_weight`, `temperature_weight`, `age_weight` and `uneven_weight` (what
    uneven light costs) are 1 in use; zero weights, zero soiling, mismatch and wiring, unit efficiency and an
    infinite limit are neutral. The curve is the controller's efficiency over its share of `full_load_w`.
    """

    albedo_frac: float
    reflection_weight: float
    weak_light_weight: float
    temperature_weight: float
    age_weight: float
    uneven_weight: float
    soiling_frac: float
    mismatch_frac: float
    wiring_frac: float
    max_input_w: float
    start_up_w: float
    full_load_w: float
    curve_load_frac: FloatArray
    curve_efficiency_frac: FloatArray


class Watts(NamedTuple):
    """Watts at the battery terminals, (s, d, n), in both sky states and expected; the first face's plane, cell.

    `plane_wm2` is after shade and before reflection; it and `cell_c`, (d, n), are those of the first sky,
    weighted over its states.
    """

    unobscured_w: FloatArray
    obscured_w: FloatArray
    expected_w: FloatArray
    plane_wm2: FloatArray
    cell_c: FloatArray
