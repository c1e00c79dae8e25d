"""Houses and trees of one's own: footprints and trunks as arrays, looked at one by one beside the road."""

import numpy as np

import routesolar as rs

route = rs.route_from_arrays([47.0, 47.02], [8.0, 8.0], name="a street northwards")
trip = rs.Trip.along(route, panel="200W", speed="30km/h", depart="2026-06-20 17:00", sky="clear")
drive = trip.drive()

# A row of houses 10 m tall west of the street: 20 m along it, 5 m apart, 6 to 16 m from its middle.
south_deg = np.arange(47.0, 47.02, 25 / 111_200)
north_deg, east_deg = 20 / 111_200, 1 / 76_000  # of 20 m northwards, of a metre eastwards
houses = rs.Buildings(
    latitude_deg=(south_deg[:, None] + [0, 0, north_deg, north_deg]).ravel(),
    longitude_deg=np.tile(8.0 - east_deg * np.array([16, 6, 6, 16]), len(south_deg)),
    first=4 * np.arange(len(south_deg) + 1),  # ring k is vertices first[k] to first[k + 1]
    height_m=np.full(len(south_deg), 10.0),
)
trees = rs.StandingCrowns(
    latitude_deg=south_deg,
    longitude_deg=np.full(len(south_deg), 8.0 - 4 * east_deg),
    height_m=np.full(len(south_deg), 12.0),
    crown_width_m=np.full(len(south_deg), 6.0),
    evergreen_frac=np.zeros(len(south_deg)),
)

bare = rs.surroundings(trip, drive)
answers = {
    name: rs.harvest(rs.scene(drive, trip.rig, around), trip.skies).totals.energy_wh
    for name, around in (
        ("open", bare),
        ("houses", bare.beside(buildings=houses)),
        ("houses and trees", bare.beside(buildings=houses, standing=trees)),
    )
}
print(", ".join(f"{name}: {wh:.2f} Wh" for name, wh in answers.items()))
