"""What a loose panel would add that is set out at the stops and turned to the sun by hand."""

from dataclasses import replace

import numpy as np

from routesolar.model.scene import run, set_scene
from routesolar.model.sky import sky_states
from routesolar.trip.harvest import Harvest, SetOut
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain

LOOSE_W = 100.0
TURNED_EVERY_S = 3600.0


def set_out_gain(
    harvest: Harvest, rig: Rig, canopy: Canopy, terrain: Terrain, sky: Sky, rated_w: float = LOOSE_W
) -> SetOut | None:
    """Return what a loose panel would add to a harvest of the rig, turned once an hour.

    None without a stop or with such a panel in the rig. It stands in the vehicle's own shade of trees and hills
    and goes through the same controller and its limit.
    """
    segments = harvest.segments
    if not segments.stopped.any() or any(panel.aim == "sun" for panel in rig.panels):
        return None
    loose = Panel(name="set out", rated_w=rated_w, use="stopped", aim="sun", aim_every_s=TURNED_EVERY_S)
    scene = set_scene(segments, replace(rig, panels=(*rig.panels, loose)), canopy.certain(), terrain)
    states = sky_states(sky, segments, scene.sun.apparent_elevation_deg)
    energy_wh = float(np.sum(run(scene, [states]).expected_w[0] * segments.duration_s / 3600))
    return SetOut(rated_w=rated_w, added_wh=energy_wh - harvest.totals.energy_wh)
