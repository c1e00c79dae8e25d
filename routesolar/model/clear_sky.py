"""The sun and the truly clear sky over a drive."""

import numpy as np

from routesolar.physics.clear_sky import clear_sky_along
from routesolar.physics.kernel_arrays import OpenSky
from routesolar.physics.sky import linke_turbidity
from routesolar.physics.sun import SunPosition, sun_position
from routesolar.trip.segments import Segments


def sun_on(segments: Segments) -> SunPosition:
    """Return the sun's position at the middle of every segment, (d, n)."""
    return sun_position(
        segments.middle_latitude_deg,
        segments.middle_longitude_deg,
        segments.middle_elevation_m,
        segments.middle_utc_s,
    )


def open_sky_on(
    segments: Segments, sun: SunPosition, haze_at_deg: tuple[float, float] | None = None
) -> OpenSky:
    """Return sun and clear sky over the drive, (d, n); the haze is the road's own, or that of a place."""
    latitude_deg, longitude_deg = haze_at_deg or (segments.middle_latitude_deg, segments.middle_longitude_deg)
    turbidity = linke_turbidity(latitude_deg, longitude_deg, segments.middle_elevation_m, segments.middle_utc_s)
    return clear_sky_along(
        sun.azimuth_deg,
        sun.apparent_elevation_deg,
        np.array(segments.middle_elevation_m),
        turbidity,
        sun.earth_sun_au,
    )
