"""The shade is looked for once for each set of trees: never again for losses, a loose panel or other skies."""

import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

import routesolar as rs
from routesolar.model import shade
from routesolar.model.other_trees import nodes_of

LEAVING = [utc("2026-11-20T09:00+11:00")]
RIG = rs.Rig(
    panels=(rs.Panel(rated_w=200.0, tilt_deg=15.0),),
    battery=rs.Battery(capacity_wh=1000.0),
    loads=(rs.Load(name="freezer", power_w=45.0),),
)
SKIES = [rs.Sky(name="broken"), rs.Sky(name="clear")]


def with_halts(segments: int) -> rs.Segments:
    """Return a drive that stands still now and then, so that a panel can be set out."""
    drive = straight_drive(-42.0, 147.0, LEAVING, segments=segments)
    halts = np.arange(segments) % 20 == 7
    speed_mps, length_m = (np.where(halts, 0.0, values) for values in (drive.speed_mps, drive.length_m))
    return replace(drive, stopped=halts, speed_mps=speed_mps, length_m=length_m)


def behind_trees(drive: rs.Segments) -> rs.Surroundings:
    """Return a wood behind hills of 4 degrees, so that hills have a part in the losses."""
    canopy = rs.Canopy.uniform(drive.count, cover_frac=0.5, road_width_m=14.0)
    return rs.Surroundings(canopy=canopy, terrain=rs.Terrain(horizon_deg=np.full((drive.count, 36), 4.0)))


@pytest.fixture
def marches(monkeypatch):
    """The points that each march of the sky and of the beam looked from."""
    counted = []
    for name in ("sky_overlap", "beam_overlap"):
        march = getattr(shade, name)

        def counting(views, *rest, march=march, name=name):
            counted.append((name, len(views.col)))
            return march(views, *rest)

        monkeypatch.setattr(shade, name, counting)
    return counted


def test_a_harvest_marches_once_for_the_trees_as_stated_and_once_for_each_other_width_and_cover(marches):
    drive = with_halts(60)
    around = behind_trees(drive)
    found = rs.harvest(rs.scene(drive, RIG, around), SKIES)
    assert found.set_out is not None
    assert found.losses_wh["terrain"] > 0
    assert found.charge is not None
    widths_and_covers = np.unique(
        nodes_of(around.canopy)[:, :2], axis=0
    )  # (0, 0), of other crowns, is as stated
    assert sorted(marches) == sorted([("beam_overlap", 60), ("sky_overlap", 60)] * len(widths_and_covers))


def test_a_second_harvest_of_a_scene_looks_at_no_tree(marches):
    drive = with_halts(60)
    scene = rs.scene(drive, RIG, behind_trees(drive))
    marches.clear()
    first = rs.harvest(scene, SKIES)
    again, other = rs.harvest(scene, SKIES), rs.harvest(scene, rs.Sky(name="overcast"))
    assert marches == []
    assert again == first
    assert other.set_out.added_wh < first.set_out.added_wh


def test_a_loose_panel_stands_in_the_shade_of_the_vehicle():
    # Second way: a rig that has the panel from the start.
    drive = with_halts(60)
    around = behind_trees(drive)
    found = rs.harvest(rs.scene(drive, RIG, around), SKIES)
    loose = rs.Panel(name="set out", rated_w=100.0, use="stopped", aim="sun", aim_every_s=3600.0)
    both = rs.harvest(rs.scene(drive, replace(RIG, panels=(*RIG.panels, loose)), around), SKIES)
    assert found.set_out.added_wh == both.totals.energy_wh - found.totals.energy_wh


def test_scene_and_harvest_come_back_from_a_pickle_and_from_threads_bit_for_bit():
    drive = with_halts(60)
    scene = rs.scene(drive, RIG, behind_trees(drive))
    found = rs.harvest(scene, SKIES)
    assert pickle.loads(pickle.dumps(found)) == found
    assert rs.harvest(pickle.loads(pickle.dumps(scene)), SKIES) == found
    with ThreadPoolExecutor(4) as pool:
        assert all(one == found for one in pool.map(lambda _: rs.harvest(scene, SKIES), range(4)))
        others = pool.map(lambda _: rs.harvest(rs.scene(drive, RIG, behind_trees(drive)), SKIES), range(4))
        assert all(one == found for one in others)
