"""A route of one's own, from arrays: a loop of 20 km, driven at noon. What does each quarter of it bring?"""

import numpy as np

import routesolar as rs

turn = np.linspace(0, 2 * np.pi, 200)
radius_deg = 0.02855  # 3.2 km
latitude_deg = 47.0 + radius_deg * np.cos(turn)
longitude_deg = 8.0 + radius_deg * np.sin(turn) / np.cos(np.radians(47.0))
route = rs.route_from_arrays(latitude_deg, longitude_deg, elevation_m=np.full(200, 450.0), name="a loop")

trip = rs.Trip.along(
    route, panel="200W", speed="60km/h", depart="2026-06-20 13:00", sky="clear", canopy_cover="0", legs="5km"
)
drive = trip.drive()
harvest = rs.harvest(rs.scene(drive, trip.rig, rs.surroundings(trip, drive)), trip.skies)
legs = harvest.legs_frame()
print(legs[["name", "distance_km", "energy_wh"]].to_string(index=False))
