"""Surroundings of one's own: the cover beside the road, segment by segment, as one has counted it."""

from dataclasses import replace

import numpy as np

import routesolar as rs

route = rs.route_from_arrays([47.0, 47.2], [8.0, 8.0], name="fields, then woods")
trip = rs.Trip.along(route, panel="200W", speed="60km/h", depart="2026-06-20 13:00", sky="clear")
drive = trip.drive()

cover_frac = np.where(drive.along_m < drive.along_m.max() / 2, 0.0, 0.8)  # woods from the middle on
canopy = replace(rs.Canopy.uniform(drive.count, cover_frac=0.0, height_m=20.0), uniform_cover_frac=cover_frac)
around = rs.Surroundings(canopy=canopy, terrain=rs.Terrain.flat(drive.count))
harvest = rs.harvest(rs.scene(drive, trip.rig, around), trip.skies)

segments = harvest.to_frame()
wooded = cover_frac > 0
views = segments.sky_view_frac[~wooded].mean(), segments.sky_view_frac[wooded].mean()
print(f"of the sky the panel sees {views[0]:.0%} among fields and {views[1]:.0%} in the woods")
