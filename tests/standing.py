"""What stands beside a road, for tests: bodies laid out in metres around a place, and rays cast at them."""

from types import SimpleNamespace

import numpy as np

from routesolar.physics.geodesy import metres_per_degree
from routesolar.physics.prisms import Panels


def degrees_at(place, east_m, north_m):
    """Latitude and longitude of places so many metres from one; longitudes may pass 180."""
    north, east = metres_per_degree(place[0])
    return place[0] + np.asarray(north_m) / north, place[1] + np.asarray(east_m) / east


def box(west, south, east, north):
    return np.array([(west, south), (east, south), (east, north), (west, north)], float)


def rings_at(place, rings, tops_m):
    """The four arrays of buildings from rings in metres."""
    metres = np.concatenate(rings)
    first = np.append(0, np.cumsum([len(ring) for ring in rings]))
    return (*degrees_at(place, metres[:, 0], metres[:, 1]), first, np.asarray(tops_m, float))


def panels_at(place, east_m, north_m, *, height_m=2.0, slope=(0.0, 0.0), heading_deg=0.0, hills_deg=0.0):
    """Level panels at places in metres, all looked at from one place in degrees."""
    count = len(east_m)
    latitude, longitude = (np.full(count, value) for value in place)
    return Panels(
        latitude_deg=latitude,
        longitude_deg=longitude,
        east_m=np.asarray(east_m, float),
        north_m=np.asarray(north_m, float),
        height_m=height_m,
        slope_east=np.full(count, slope[0]),
        slope_north=np.full(count, slope[1]),
        heading_deg=np.full(count, heading_deg),
        horizon_deg=np.full((1, 4), hills_deg),
        place=np.zeros(count, dtype=np.int64),
    )


def inside(ring, east_m, north_m):
    """Whether places lie in a ring: the sum of the angles its corners are seen under is a whole turn."""
    corners = ring - np.stack([east_m, north_m], axis=-1)[..., None, :]
    towards = np.arctan2(corners[..., 1], corners[..., 0])
    turns = (np.diff(np.concatenate([towards, towards[..., :1]], axis=-1)) + np.pi) % (2 * np.pi) - np.pi
    return np.abs(turns.sum(axis=-1)) > np.pi


def ray_of(azimuth_deg, elevation_deg):
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.sin(azimuth) * np.cos(elevation), np.cos(azimuth) * np.cos(elevation), np.sin(elevation)


def hidden_by_solids(rings, tops_m, panel, azimuth_deg, elevation_deg, step_m=0.05, far_m=120.0):
    """Whether a ray, followed step by step, comes into a solid: in an odd number of rings, below their top."""
    east, north, up = ray_of(azimuth_deg, elevation_deg)
    way_m = np.arange(0.0, far_m, step_m)
    at = SimpleNamespace(east=panel[0] + east * way_m, north=panel[1] + north * way_m, up=panel[2] + up * way_m)
    within = np.array([inside(ring, at.east, at.north) for ring in rings]).sum(axis=0) % 2 == 1
    return bool(np.any(within & (at.up < max(tops_m))))


def chords_by_steps(crown, panel, azimuth_deg, elevation_deg, step_m=0.01, far_m=150.0):
    """A way through an ellipsoid, step by step, over its mean chord (volume over shadow: a ball's 4 r / 3)."""
    east_m, north_m, height_m, width_m, base_frac = crown
    half_m, radius_m = height_m * (1 - base_frac) / 2, width_m / 2
    ray = ray_of(azimuth_deg, elevation_deg)
    way_m = np.arange(step_m / 2, far_m, step_m)
    at = [panel[k] + ray[k] * way_m for k in range(3)]
    ball = ((at[0] - east_m) / radius_m) ** 2 + ((at[1] - north_m) / radius_m) ** 2
    ball += ((at[2] - (height_m - half_m)) / half_m) ** 2
    volume = 4 / 3 * np.pi * radius_m**2 * half_m
    # The shadow on a plane across the ray of a body of revolution: pi r sqrt(r^2 sin^2 + h^2 cos^2).
    up, level = ray[2], np.hypot(ray[0], ray[1])
    shadow = np.pi * radius_m * np.sqrt((radius_m * up) ** 2 + (half_m * level) ** 2)
    return step_m * np.count_nonzero(ball < 1) / (volume / shadow)
