"""One drive computed whole: every array, every leg, every sky."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from routesolar.conditions import sky_states
from routesolar.legs import hour_results, leg_results, trip_result
from routesolar.physics.attitude import incidence_cos
from routesolar.scene import Power, Scene, clear_states, run, set_scene, unshaded
from routesolar.trip.arrays import FloatArray
from routesolar.trip.harvest import Harvest, SkyResult
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain


def simulate(segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain, skies: Sequence[Sky]) -> Harvest:
    """Return the harvest of one drive (a single departure); the first sky leads, all are summed.

    Raises:
        ValueError: `segments` holds more than one departure, or no sky is given.
    """
    if len(segments.departure_utc_s) != 1 or not skies:
        raise ValueError("simulate takes one departure and at least one sky; use sweep for many departures")
    scene = set_scene(segments, rig, canopy, terrain)
    states = [sky_states(sky, segments, scene.sun.apparent_elevation_deg) for sky in skies]
    bare = unshaded(scene)
    power = run(scene, states)
    open_w = run(bare, states[:1]).expected_w[0, 0]
    clear_w = run(bare, [clear_states(states[0])]).expected_w[0, 0]
    return _harvest(scene, skies, states[0], power, open_w, clear_w)


def _harvest(
    scene: Scene,
    skies: Sequence[Sky],
    states: SkyStates,
    power: Power,
    open_w: FloatArray,
    clear_w: FloatArray,
) -> Harvest:
    """Return the noun of one drive from its parts."""
    segments, hours = scene.segments, scene.segments.duration_s[0] / 3600
    power_w = power.expected_w[0, 0]
    energy_wh = power_w * hours
    offset = datetime.fromtimestamp(segments.departure_utc_s[0], tz=UTC).astimezone(
        ZoneInfo(segments.time_zone)
    )
    prob = np.broadcast_to(states.sun_out_prob, segments.duration_s.shape)[0]
    return Harvest(
        segments=segments,
        sky=skies[0].name,
        **_seen(scene, states),
        plane_wm2=power.plane_wm2[0, 0],
        cell_c=power.cell_c[0, 0],
        power_w=power_w,
        energy_wh=energy_wh,
        open_sky_w=open_w,
        clear_sky_w=clear_w,
        state_power_w=np.stack([power.out_w[0, 0], power.hidden_w[0, 0]]),
        sun_out_prob=prob,
        legs=leg_results(segments, power_w, open_w, clear_w),
        totals=trip_result(segments, power_w, open_w, clear_w),
        driving_wh=float(energy_wh[~segments.stopped].sum()),
        stopped_wh=float(energy_wh[segments.stopped].sum()),
        skies=tuple(
            SkyResult(sky=sky.name, energy_wh=float((watts[0] * hours).sum()))
            for sky, watts in zip(skies, power.expected_w, strict=True)
        ),
        hours=hour_results(segments, energy_wh, offset.utcoffset().total_seconds()),  # type: ignore[union-attr]
    )


def _seen(scene: Scene, states: SkyStates) -> dict[str, Any]:
    """Return sun, expected open-sky irradiance and shade of the one departure, (n,); NaN at night."""
    sun, sky = scene.sun, scene.open_sky
    elevation = sun.apparent_elevation_deg
    night = sky.ghi_wm2 <= 0
    prob = states.sun_out_prob
    ghi = sky.ghi_wm2 * (prob * states.out_share + (1 - prob) * states.hidden_share)
    dni = sky.dni_wm2 * prob * states.out_beam_share
    cos_incidence = incidence_cos(scene.faces.normal[0], sun.azimuth_deg, elevation)
    return {
        "sun_azimuth_deg": sun.azimuth_deg[0],
        "sun_elevation_deg": elevation[0],
        "incidence_deg": np.where(night, np.nan, np.degrees(np.arccos(np.clip(cos_incidence, -1, 1))))[0],
        "ghi_wm2": ghi[0],
        "dni_wm2": dni[0],
        "dhi_wm2": np.maximum(ghi - dni * np.sin(np.radians(elevation)), 0.0)[0],
        "beam_transmittance_frac": np.where(night, np.nan, scene.shade.beam_frac)[0],
        "sky_view_frac": scene.shade.sky_view_frac[0, 0],
    }
