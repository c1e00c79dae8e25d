"""The irradiance that the two states of a sky mix to."""

import numpy as np

from routesolar.model.clear_sky import sun_on
from routesolar.physics.clear_sky import clear_sky_along
from routesolar.physics.sky import linke_turbidity


def expected_wm2(states, segments):
    """Return the mixture's ghi, dni and dhi over the drive."""
    sun = sun_on(segments)
    place = segments.middle_latitude_deg, segments.middle_longitude_deg, segments.middle_elevation_m
    clear = clear_sky_along(
        sun.azimuth_deg,
        sun.apparent_elevation_deg,
        np.array(segments.middle_elevation_m),
        linke_turbidity(*place, segments.middle_utc_s),
        sun.earth_sun_au,
    )
    prob = states.sun_out_prob
    ghi = clear.ghi_wm2 * (prob * states.unobscured_index + (1 - prob) * states.obscured_index)
    dni = clear.dni_wm2 * prob * states.unobscured_beam_index
    return ghi, dni, ghi - dni * np.sin(np.radians(sun.apparent_elevation_deg))
