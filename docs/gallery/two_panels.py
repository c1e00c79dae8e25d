"""Two panels: one flat on the roof, one tilted to the left. What does the tilt bring, there and back?"""

import routesolar as rs

rigs = {
    "both flat": rs.Rig(panels=(rs.Panel(rated_w=100), rs.Panel(rated_w=100))),
    "one tilted": rs.Rig(panels=(rs.Panel(rated_w=100), rs.Panel(rated_w=100, tilt_deg=30, facing_deg=270))),
}
# At noon in winter the sun is in the south: to the right of a drive to the east, to the left of one back west.
east = rs.route_from_arrays([47.0, 47.0], [8.0, 8.3], name="east")
west = rs.route_from_arrays([47.0, 47.0], [8.3, 8.0], name="west")


def energy_wh(route: rs.Route, rig: rs.Rig) -> float:
    """Return what a drive around noon in winter brings under a clear sky."""
    trip = rs.Trip.along(
        route, rig=rig, speed="60km/h", depart="2026-12-20 12:20", sky="clear", canopy_cover="0"
    )
    drive = trip.drive()
    return rs.harvest(rs.scene(drive, trip.rig, rs.surroundings(trip, drive)), trip.skies).totals.energy_wh


answers = {(route.name, name): energy_wh(route, rig) for route in (east, west) for name, rig in rigs.items()}
for (way, name), energy in answers.items():
    print(f"{way}, {name}: {energy:.1f} Wh")
