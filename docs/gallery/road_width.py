"""How much hangs on the width of the road: the same wooded road with openings of 8 to 30 m."""

import pandas as pd

import routesolar as rs

route = rs.route_from_arrays([47.0, 47.1], [8.0, 8.1], name="through the woods")
trip = rs.Trip.along(
    route,
    panel="200W",
    speed="60km/h",
    depart="2026-06-20 13:00",
    sky="broken",
    canopy_cover="70",
    canopy_height="20m",
)


def energy_wh(road_width_m: float) -> float:
    """Return what the drive brings with an opening of this width between the crowns."""
    wooded = trip.with_(road_width=f"{road_width_m}m")
    drive = wooded.drive()
    return rs.harvest(
        rs.scene(drive, wooded.rig, rs.surroundings(wooded, drive)), wooded.skies
    ).totals.energy_wh


widths_m = [8, 12, 20, 30]
answers = pd.DataFrame({"road_width_m": widths_m, "energy_wh": [energy_wh(width_m) for width_m in widths_m]})
print(answers.round(1).to_string(index=False))
