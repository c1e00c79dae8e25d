"""From a panel on a vehicle on a road to the direction the panel looks.

The world frame is east, north, up. The vehicle's frame is forward, right, up: pitch is positive nose up,
roll positive right side down, heading clockwise from true north (ISO 8855 counts y to the left and roll
and yaw accordingly; the names are the same). Rotations apply in the aerospace order read backwards:
roll, then pitch, then heading.
"""

import numpy as np
from numpy.typing import ArrayLike

from routesolar.arrays import FloatArray


def panel_normal(
    tilt_deg: ArrayLike,
    facing_deg: ArrayLike,
    roll_deg: ArrayLike,
    grade_frac: ArrayLike,
    heading_deg: ArrayLike,
) -> FloatArray:
    """Return the panel's normal as a unit vector (east, north, up), shape (..., 3).

    The panel leans by `tilt_deg` from the roof's plane towards `facing_deg`, clockwise from the nose;
    the vehicle pitches by the road's grade (rise over run along the heading). Arguments broadcast.
    """
    tilt, facing, roll, heading = (
        np.radians(np.asarray(v, float)) for v in (tilt_deg, facing_deg, roll_deg, heading_deg)
    )
    pitch = np.arctan(np.asarray(grade_frac, dtype=np.float64))

    forward, right, up = np.sin(tilt) * np.cos(facing), np.sin(tilt) * np.sin(facing), np.cos(tilt)
    right, up = right * np.cos(roll) + up * np.sin(roll), up * np.cos(roll) - right * np.sin(roll)
    forward, up = forward * np.cos(pitch) - up * np.sin(pitch), forward * np.sin(pitch) + up * np.cos(pitch)
    east = forward * np.sin(heading) + right * np.cos(heading)
    north = forward * np.cos(heading) - right * np.sin(heading)
    return np.stack(np.broadcast_arrays(east, north, up), axis=-1)


def incidence_cos(normal: FloatArray, azimuth_deg: ArrayLike, elevation_deg: ArrayLike) -> FloatArray:
    """Return the cosine of the angle between the panel's normal (..., 3) and the sun; 0 from behind.

    The sun may be below the horizon: whether it shines is not asked here.
    """
    azimuth, elevation = (
        np.radians(np.asarray(azimuth_deg, float)),
        np.radians(np.asarray(elevation_deg, float)),
    )
    east, north, up = (
        np.cos(elevation) * np.sin(azimuth),
        np.cos(elevation) * np.cos(azimuth),
        np.sin(elevation),
    )
    cosine = normal[..., 0] * east + normal[..., 1] * north + normal[..., 2] * up
    return np.clip(cosine, 0.0, 1.0)


def tilt_and_azimuth_deg(normal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the panel's tilt from level and the azimuth it leans towards, in degrees, from its normal.

    The azimuth of a level panel is undefined: NaN.
    """
    east, north, up = normal[..., 0], normal[..., 1], normal[..., 2]
    level = np.hypot(east, north)
    azimuth = np.degrees(np.arctan2(east, north)) % 360.0
    return np.degrees(np.arctan2(level, up)), np.where(level > 1e-12, azimuth, np.nan)
