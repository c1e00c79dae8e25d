"""The doubt about trees holds the expected energy: narrower and denser below it, wider and thinner above."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc
from files.raster_samples import points, write
from hypothesis import given, settings
from hypothesis import strategies as st

from routesolar.files.canopy_files import CanopySources, Said, canopy_from
from routesolar.model.simulation import simulate
from routesolar.trip.harvest import Harvest, LegResult
from routesolar.trip.rig import Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky
from routesolar.trip.surroundings import Canopy, Terrain, Trees

ROUNDING = 1 + 1e-9


def harvest(drive: Segments, canopy: Canopy) -> Harvest:
    return simulate(
        drive, Rig(panels=(Panel(rated_w=200),)), canopy, Terrain.flat(drive.count), [Sky(name="clear")]
    )


def within(leg: LegResult) -> bool:
    assert leg.energy_shade_low_wh is not None and leg.energy_shade_high_wh is not None
    low_holds = leg.energy_shade_low_wh <= leg.energy_wh * ROUNDING
    return low_holds and leg.energy_wh <= leg.energy_shade_high_wh * ROUNDING


woods = st.fixed_dictionaries(
    {
        "cover_frac": st.floats(0.02, 0.8) | st.floats(0.8, 1.0),
        "height_m": st.floats(3, 40),
        "road_width_m": st.just(0.0) | st.floats(1, 30),
    }
)
habits = st.builds(
    Trees,
    road_width_between=st.sampled_from(["opening", "trunks", "crowns"]),
    crown_ratio=st.floats(1, 3),
    lane_offset_m=st.floats(0, 3),
    height_spread_frac=st.sampled_from([0.0, 0.2]),
)


@settings(max_examples=150)
@given(
    wood=woods,
    trees=habits,
    tau=st.floats(0.05, 0.7),
    heading_deg=st.floats(0, 360),
    latitude_deg=st.floats(-60, 60),
    month=st.integers(1, 12),
    hour=st.integers(5, 18),
)
def test_the_expected_energy_lies_within_the_doubt_about_trees(
    wood, trees, tau, heading_deg, latitude_deg, month, hour
):
    # Dense covers push the trunks outwards (the opening's edges overhang it more), which lightens the shade:
    # never by as much as ten points of cover and 30 % of the width darken it.
    start = utc(f"2026-{month:02}-15T{hour:02}:00+00:00")
    drive = straight_drive(latitude_deg, 0.0, [start], heading_deg=heading_deg, segments=2)
    canopy = Canopy.uniform(drive.count, **wood, trees=trees)
    result = harvest(drive, replace(canopy, crown_transmittance_frac=np.array([[tau]])))
    assert all(within(leg) for leg in (*result.legs, result.totals))


@pytest.mark.parametrize("width_m", [7.0, 12.0, 20.0])
@pytest.mark.parametrize("cell_m", [10.0, 30.0])
def test_so_it_does_where_the_raster_shows_woods_and_the_opening(tmp_path, cell_m, width_m):
    # A road eastwards along the middle of a row of cells, in whose cover its opening shows.
    rng = np.random.default_rng(5)
    rows, cols = int(3000 / cell_m), int(4500 / cell_m)
    stand = np.repeat(rng.uniform(0.1, 1.0, cols // 5), 5) * rng.uniform(0.7, 1.0, (rows, cols))
    open_frac = np.clip((width_m - cell_m * (2 * np.abs(np.arange(rows) - rows // 2) - 1)) / cell_m / 2, 0, 1)
    open_frac[rows // 2] = min(width_m / cell_m, 1)
    source = write(
        tmp_path / "cover.tif", np.round(100 * stand * (1 - open_frac[:, None])).astype("uint8"), cell=cell_m
    )
    latitude_deg, longitude_deg = (place[0] for place in points([900], [(rows // 2 + 0.5) * cell_m]))
    sources = CanopySources(cover=(source,), height_m=18.0, road_width_m=width_m)
    widest = 0.0
    for start in ("2026-12-15T09:00+11:00", "2026-12-15T13:00+11:00", "2026-06-15T12:00+10:00"):
        drive = straight_drive(latitude_deg, longitude_deg, [utc(start)], segments=60, step_s=2.0)
        places = drive.middle_latitude_deg, drive.middle_longitude_deg
        result = harvest(drive, canopy_from(*places, sources, Said.nothing(drive.count)).canopy)
        assert all(within(leg) for leg in (*result.legs, result.totals))
        widest = max(widest, result.totals.energy_shade_high_wh / result.totals.energy_shade_low_wh)
    assert widest > 1.1  # trees were in the way at all


def test_so_it_does_where_a_wider_road_has_its_cells_read_in_another_way(tmp_path):
    # Patches of wood and none, in cells of 30 m: a road of 5.3 m takes more than .15 of its cells, so that
    # stands are told from all cells around; 30 % narrower it takes less, and each cell is told by itself.
    rng = np.random.default_rng(9)
    stand = np.repeat(np.repeat(rng.uniform(size=(50, 75)) < 0.35, 2, axis=0), 2, axis=1) * 0.8
    source = write(tmp_path / "cover.tif", np.round(100 * stand).astype("uint8"))
    sources = CanopySources(cover=(source,), height_m=25.0, road_width_m=5.3)
    latitude_deg, longitude_deg = (place[0] for place in points([900], [50.5 * 30]))
    for hour in range(7, 19):
        start = utc(f"2026-12-15T{hour:02}:00+11:00")
        drive = straight_drive(latitude_deg, longitude_deg, [start], segments=8, step_s=2.0)
        places = drive.middle_latitude_deg, drive.middle_longitude_deg
        result = harvest(drive, canopy_from(*places, sources, Said.nothing(drive.count)).canopy)
        assert all(within(leg) for leg in (*result.legs, result.totals))
