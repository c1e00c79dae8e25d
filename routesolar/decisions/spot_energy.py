"""The energy of many spots over one stay, for many headings: one sun, only shade and facing differ."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from routesolar.decisions.stay import Stay, standing, steps_of
from routesolar.model.left import Shade
from routesolar.model.panels import faces_of
from routesolar.model.scene import Scene, run, set_scene
from routesolar.model.sky import sky_states
from routesolar.physics import kernel_arrays
from routesolar.physics.sun import SunPosition
from routesolar.trip.arrays import FloatArray
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.wanted import in_steps


class SpotEnergies(NamedTuple):
    """Expected Wh by heading and spot, (h, n), and the most that an open place would bring.

    `best_w` (n, steps) is the watts through the stay in each spot's best heading, `here_w` (1, steps) those at
    the first spot in the last heading; `air_c` (steps,) is the air.
    """

    energy_wh: FloatArray
    open_wh: float
    best_w: FloatArray
    here_w: FloatArray
    air_c: FloatArray


def spot_energies(stay: Stay, rig: Rig, shade: Shade, sky: Sky, headings_deg: FloatArray) -> SpotEnergies:
    """Return what the spots bring in all headings but the last, and the first spot in the last.

    `shade` is that of n spots facing north (d steps of the stay, n).
    """
    steps, n = shade.beam_transmittance_frac.shape
    waiting = _standing_here(stay, 1)
    bare = set_scene(waiting, rig, Canopy.open(steps), Terrain.flat(steps))
    states = sky_states(sky, waiting, bare.sun.apparent_elevation_deg)
    crowd = replace(bare, segments=_standing_here(stay, n), open_sky=_repeated(bare.open_sky, n))
    beam = np.ascontiguousarray(np.nan_to_num(shade.beam_transmittance_frac.T, nan=1.0))
    hours = waiting.duration_s[0] / 3600
    energy_wh, open_wh = np.empty((len(headings_deg), n)), 0.0
    best_w, most_wh, here_w = np.zeros((n, steps)), np.full(n, -1.0), np.zeros((1, steps))
    for index, heading_deg in enumerate(in_steps(headings_deg.tolist())):
        turned = replace(waiting, heading_deg=np.full(steps, heading_deg))
        faces = faces_of(turned, rig, bare.sun)
        views = np.stack([_views(shade, normal[0], n) for normal in faces.normal])
        clear = np.stack([_clear_views(shade, normal[0], n, bare.sun) for normal in faces.normal])
        scene = replace(crowd, faces=faces, shade=kernel_arrays.ShadeOnFaces(beam, beam, views, clear, clear))
        watts = run(scene, [states]).expected_w[0]
        energy_wh[index] = watts @ hours
        if index < len(headings_deg) - 1:
            better = energy_wh[index] > most_wh
            best_w[better], most_wh[better] = watts[better], energy_wh[index, better]
        here_w = watts[:1].copy()
        alone: Scene = replace(bare, faces=faces)
        open_wh = max(open_wh, float(run(alone, [states]).expected_w[0, 0] @ hours))
    air_c = np.broadcast_to(states.air_c, (1, steps))[0]
    return SpotEnergies(energy_wh, open_wh, best_w, here_w, air_c)


def _standing_here(stay: Stay, count: int) -> Segments:
    """Return the stay at the stop itself, a segment a step of time, as `count` equal departures."""
    starts_utc_s, step_s = steps_of(stay)
    here = np.ones(len(starts_utc_s))
    times_utc_s = np.repeat(starts_utc_s[None], count, axis=0)
    places = stay.latitude_deg * here, stay.longitude_deg * here
    return standing(stay, *places, times_utc_s, np.full_like(times_utc_s, step_s))


def _repeated(sky: kernel_arrays.OpenSky, count: int) -> kernel_arrays.OpenSky:
    return kernel_arrays.OpenSky(*(np.repeat(field, count, axis=0) for field in sky))


def _views(shade: Shade, normal: FloatArray, count: int) -> FloatArray:
    """Return the share of a panel's dome open at every spot and step, (n, steps), for normals (steps, 3)."""
    turns, step = np.unique(normal, axis=0, return_inverse=True)
    north = np.zeros(count)  # the spots' tables of the sky count from the north
    views = [shade.sky.view_frac(np.tile(turn, (1, count, 1)), north)[0] for turn in turns]
    return np.ascontiguousarray(np.stack(views, axis=1)[:, step.reshape(-1)])


def _clear_views(shade: Shade, normal: FloatArray, count: int, sun: SunPosition) -> FloatArray:
    """Return the share left of a cloudless sky's light at spots and steps, (n, steps); normals (steps, 3)."""
    steps = len(normal)
    normals = np.broadcast_to(normal[:, None], (steps, count, 3))
    suns = (np.repeat(values.T, count, axis=1) for values in (sun.azimuth_deg, sun.apparent_elevation_deg))
    turns = normals[:1] if np.ptp(normal, axis=0).max() == 0 else normals
    left = shade.sky.clear_view_frac(turns, np.zeros(count), *suns)
    return np.ascontiguousarray(np.broadcast_to(left, (steps, count)).T)
