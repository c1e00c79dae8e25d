"""What a loose panel would add that is set out at the stops and turned to the sun by hand."""

from dataclasses import replace

import numpy as np

from routesolar.conditions import sky_states
from routesolar.scene import run, set_scene
from routesolar.trip.harvest_report import SetOut
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

LOOSE_W = 100.0
TURNED_EVERY_S = 3600.0


def set_out_gain(
    segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain, sky: Sky, rated_w: float = LOOSE_W
) -> SetOut | None:
    """Return what a loose panel would add, turned once an hour; None without a stop or with one in the rig.

    It stands in the vehicle's own shade of trees and hills and goes through the same controller and its limit.
    """
    if not segments.stopped.any() or any(panel.aim == "sun" for panel in rig.panels):
        return None
    loose = Panel(name="set out", rated_w=rated_w, use="stopped", aim="sun", aim_every_s=TURNED_EVERY_S)
    with_loose = replace(rig, panels=(*rig.panels, loose))
    hours = segments.duration_s / 3600
    energies = []
    for equipment in (rig, with_loose):
        scene = set_scene(segments, equipment, canopy, terrain)
        states = sky_states(sky, segments, scene.sun.apparent_elevation_deg)
        energies.append(float(np.sum(run(scene, [states]).expected_w[0] * hours)))
    return SetOut(rated_w=rated_w, added_wh=energies[1] - energies[0])
