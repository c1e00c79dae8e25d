"""A plausible search for a parking spot made without the simulation, for tests of what is drawn of it."""

from dataclasses import replace

import numpy as np
from sample_decisions import MIDNIGHT_UTC_S, Presented, presented
from sample_harvest import ZONE, winding_segments

from routesolar.decisions.criterion import Outcome
from routesolar.decisions.park import Parking, Spot, park_dict, park_rows
from routesolar.decisions.stay import Stay
from routesolar.report.park_chart import park_png
from routesolar.report.units import METRIC
from routesolar.report.words_where import park_words

M_PER_DEG = 111_195.0  # along a meridian of a sphere of 6371 km: near enough for places of tests


def lattice_parking(side=9, *, apart_m=12.0, name="River mouth", west_deg=147.0):
    """A square lattice of spots around a stop, better towards the east; its southernmost row is under trees."""
    stay = Stay(
        name=name,
        latitude_deg=-42.0,
        longitude_deg=west_deg,
        elevation_m=10.0,
        heading_deg=90.0,
        start_utc_s=MIDNIGHT_UTC_S + 10 * 3600,
        end_utc_s=MIDNIGHT_UTC_S + 15 * 3600,
        time_zone=ZONE,
    )
    steps = (np.arange(side) - side // 2) * apart_m
    east, north = (offset.ravel() for offset in np.meshgrid(steps, steps))
    latitude_deg = -42.0 + north / M_PER_DEG
    longitude_deg = west_deg + east / M_PER_DEG / np.cos(np.radians(42))
    taken = north == north.min()
    order = np.argsort(-east[~taken], kind="stable")
    spots = tuple(
        Spot(
            rank=rank,
            latitude_deg=float(latitude_deg[~taken][i]),
            longitude_deg=float(longitude_deg[~taken][i]),
            distance_m=float(np.hypot(east[~taken][i], north[~taken][i])),
            heading_deg=None if rank == 2 else float(10 * (rank % 36)),
            energy_wh=float(400 + 4 * east[~taken][i]),
            first_shade_utc_s=stay.start_utc_s + 3600 if rank % 3 == 0 else None,
            last_shade_utc_s=stay.start_utc_s + 7200 if rank % 3 == 0 else None,
            outcome=_open_circuit(float(400 + 4 * east[~taken][i]), stay),
        )
        for rank, i in enumerate(order, start=1)
    )
    return Parking(
        stay=stay,
        spots=spots,
        here_wh=400.0,
        here=_open_circuit(400.0, stay),
        open_wh=700.0,
        occupied_latitude_deg=latitude_deg[taken],
        occupied_longitude_deg=longitude_deg[taken],
        sky="broken",
        road=_road_by(stay),
        warnings=("Some heights are not known.",),
    )


def _open_circuit(energy_wh, stay):
    """What comes of a stay without a battery."""
    return Outcome(energy_wh, energy_wh, stay.end_utc_s)


def _road_by(stay):
    """The winding line, moved so that it passes the stop."""
    road = winding_segments(2000)
    north, east = (
        values[900] - place
        for values, place in (
            (road.latitude_deg, stay.latitude_deg),
            (road.longitude_deg, stay.longitude_deg),
        )
    )
    names = {"latitude_deg": north, "longitude_deg": east}
    moved = {
        f"{where}{name}": getattr(road, f"{where}{name}") - by
        for where in ("", "middle_", "end_")
        for name, by in names.items()
    }
    return replace(road, **moved)


def parking_report(result, title="Survey of the upper river: River mouth"):
    """All that presents the spots."""
    parts = Presented(
        title, park_words(result, METRIC), park_rows(result), park_dict(result), park_png(result, METRIC)
    )
    return presented("park", parts, result.warnings)
