"""Weather from a table: a morning under thick cloud that clears at noon, hour by hour."""

import numpy as np
import pandas as pd

import routesolar as rs

hours = pd.date_range("2026-06-20 06:00", periods=14, freq="1h", tz="Europe/Zurich")
weather = pd.DataFrame(
    {
        "latitude_deg": 47.0,
        "longitude_deg": 8.0,
        "elevation_m": 450.0,
        "cloud_frac": np.where(hours.hour < 12, 1.0, 0.1),
        "air_c": np.linspace(14.0, 24.0, len(hours)),
    },
    index=hours,
)
route = rs.route_from_arrays([47.0, 47.3], [8.0, 8.2], elevation_m=[450.0, 450.0], name="under own weather")
trip = rs.Trip.along(route, panel="200W", speed="60km/h", weather=weather, canopy_cover="0")
ranked = rs.rank_departures(trip, "2026-06-20", first="08:00", last="14:00", every="2h").to_frame()
print(ranked[["depart", "energy_wh", "energy_low_wh", "energy_high_wh"]].to_string(index=False))
