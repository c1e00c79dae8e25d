"""Many departures at once: a drive of an hour, left at every half hour of a day. When does it bring most?"""

import routesolar as rs

route = rs.route_from_arrays([47.0, 47.5], [8.0, 8.1], name="north")
trip = rs.Trip.along(route, panel="200W", speed="60km/h", sky="fair", canopy_cover="30", canopy_height="15m")
departures = rs.rank_departures(trip, "2026-06-20", first="04:00", last="21:00", every="30min")
table = departures.to_frame()
print(table[["depart", "energy_wh", "energy_low_wh", "shade_loss_frac"]].head().to_string(index=False))
