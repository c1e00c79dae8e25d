"""Diffuse light of a cloudless sky under trees, against standard skies summed over exact ways through them."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

import routesolar as rs
from routesolar.model.shade import cast_shade
from routesolar.trip.segments import Segments

# ISO 15469:2004 (CIE S 011): gradation a, b; indicatrix c, d, e. a and b of the types are as Darula & Kittler
# (2002) give them in tables seen quoted; c, d, e are from memory.
SKY_TYPE = {
    11: (-1.0, -0.55, 10.0, -3.0, 0.45),
    12: (-1.0, -0.32, 10.0, -3.0, 0.45),
    13: (-1.0, -0.32, 16.0, -3.0, 0.30),
}
RIG = rs.Rig(panels=(rs.Panel(rated_w=200.0),))
CASES = [  # date, hours in UTC on the prime meridian, road's heading, crowns' transmittance
    ("2026-12-15", (10, 12, 14), 90.0, 0.6),
    ("2026-12-15", (10, 12, 14), 90.0, 0.1),
    ("2026-12-15", (10, 12, 14), 45.0, 0.1),
    ("2026-12-15", (10, 12, 14), 0.0, 0.6),
    ("2026-10-01", (8, 12, 16), 90.0, 0.1),
    ("2026-06-21", (6, 12, 18), 0.0, 0.1),
]
STEP_DEG = 3.0


def standing(heading_deg: float, date: str, hours: tuple[int, ...]) -> Segments:
    """One place at 50 N, a segment an hour."""
    first = utc(f"{date}T{hours[0]:02d}:00:00+00:00")
    step_s = 3600.0 * (hours[1] - hours[0])
    return straight_drive(
        50.0,
        0.0,
        [first - step_s / 2],
        heading_deg=heading_deg,
        segments=len(hours),
        step_s=step_s,
        speed_mps=0.01,
    )


def woods(count: int, tau: float) -> rs.Canopy:
    canopy = rs.Canopy.uniform(count, cover_frac=0.6, height_m=15.0, road_width_m=12.0)
    return replace(canopy, crown_transmittance_frac=np.array([[tau]])).certain()


def seen_light(drive: Segments, tau: float) -> tuple[np.ndarray, np.ndarray, rs.Harvest]:
    """Light on a level panel beneath the trees under a truly clear sky and its beam, W/m2; and the harvest."""
    around = rs.Surroundings(canopy=woods(drive.count, tau), terrain=rs.Terrain.flat(drive.count))
    seen = rs.harvest(rs.scene(drive, RIG, around), rs.Sky.of_index(np.ones(drive.count), np.ones(drive.count)))
    beam = seen.dni_wm2 * np.sin(np.radians(seen.sun_elevation_deg)) * seen.beam_transmittance_frac
    return seen.plane_wm2, beam, seen


def standard_share(drive: Segments, tau: float, azimuth_deg: float, elevation_deg: float, kind: int) -> float:
    """Share of a standard sky's light on the level that comes through the trees, direction by direction."""
    up = np.arange(STEP_DEG / 2, 90.0, STEP_DEG)
    azimuths = np.arange(STEP_DEG / 2, 360.0, STEP_DEG)
    up, azimuths = (values.ravel() for values in np.meshgrid(up, azimuths, indexing="ij"))
    one = straight_drive(
        50.0, 0.0, [utc("2026-06-21T12:00:00+00:00")], segments=1, heading_deg=drive.heading_deg[0]
    )
    left = cast_shade(one, woods(1, tau), rs.Terrain.flat(1), azimuths[:, None], up[:, None], RIG.roof_height_m)
    a, b, c, d, e = SKY_TYPE[kind]
    sin_up, cos_up = np.sin(np.radians(up)), np.cos(np.radians(up))
    sun_up, turned = np.radians(elevation_deg), np.radians(azimuths - azimuth_deg)
    from_sun = np.arccos(np.clip(sin_up * np.sin(sun_up) + cos_up * np.cos(sun_up) * np.cos(turned), -1, 1))
    light = 1 + a * np.exp(b / sin_up)
    light = light * (1 + c * (np.exp(d * from_sun) - np.exp(d * np.pi / 2)) + e * np.cos(from_sun) ** 2)
    light = light * sin_up * cos_up
    return float(light @ left.beam_transmittance_frac[:, 0] / light.sum())


@pytest.mark.parametrize(("date", "hours", "heading_deg", "tau"), CASES)
def test_light_in_the_woods_is_that_of_a_standard_clear_sky(date, hours, heading_deg, tau):
    drive = standing(heading_deg, date, hours)
    plane, beam, seen = seen_light(drive, tau)
    suns = list(zip(seen.sun_azimuth_deg, seen.sun_elevation_deg, strict=True))
    # Type 12 is the model's own. How hazy the sky is (11, 13) changes what the woods get by up to a tenth.
    for kind, within in ((12, 0.015), (11, 0.07), (13, 0.10)):
        share = [standard_share(drive, tau, *sun, kind) for sun in suns]
        expected = np.sum(beam + seen.dhi_wm2 * share)
        assert np.sum(plane) == pytest.approx(expected, rel=within), kind


def test_in_the_open_nothing_comes_of_where_light_is_from():
    drive = standing(45.0, "2026-12-15", (10, 12, 14))
    seen = rs.harvest(
        rs.scene(drive, RIG, rs.Surroundings(canopy=rs.Canopy.open(3), terrain=rs.Terrain.flat(3))),
        rs.Sky.of_index(np.ones(3), np.ones(3)),
    )
    np.testing.assert_allclose(seen.plane_wm2, seen.ghi_wm2, rtol=1e-12)
