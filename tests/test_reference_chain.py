"""The whole chain against pvlib's own functions, three seasons and four latitudes (benchmarks/reference.py)."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from benchmarks.reference import energies_wh
from routesolar.model.scene import run, set_scene
from routesolar.model.sky import sky_states
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain


@pytest.mark.compiled
@pytest.mark.parametrize("latitude_deg", [0.0, 48.0, 66.0, -35.0])
@pytest.mark.parametrize("day", ["2026-03-20", "2026-06-21", "2026-12-21"])
def test_the_chain_agrees_with_pvlib_behind_the_same_shade(latitude_deg, day):
    # Two and a half hours from every half hour of the day, over hills, among trees.
    n, rig = 300, Rig(panels=(Panel(rated_w=200.0),))
    departures = [utc(f"{day}T00:00+00:00") + 1800.0 * k for k in range(48)]
    drive = straight_drive(latitude_deg, 10.0, departures, segments=n, heading_deg=70.0)
    drive = replace(drive, grade_frac=0.06 * np.sin(np.arange(n) / 20))
    scene = set_scene(drive, rig, Canopy.uniform(n, cover_frac=0.5), Terrain.flat(n))
    skies = [
        sky_states(Sky(name=name), drive, scene.sun.apparent_elevation_deg)
        for name in ("broken", "clear", "overcast")
    ]
    ours = np.sum(run(scene, skies).expected_w * drive.duration_s / 3600, axis=2)
    views = scene.shade.sky_view_frac[0, 0], scene.shade.clear_view_frac[0]
    theirs = energies_wh(drive, rig, scene.shade.beam_frac, views, skies)
    # Where a sun on the horizon brings less than a tenth of a watt-hour, the hourly sun grid shows: 1e-5 Wh.
    np.testing.assert_allclose(ours, theirs, rtol=1e-4, atol=1e-5)
    np.testing.assert_allclose(ours.sum(axis=1), theirs.sum(axis=1), rtol=1e-5, atol=1e-5)
