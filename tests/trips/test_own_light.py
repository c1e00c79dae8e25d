"""A sky and a shade of one's own: given segment by segment, checked, and carried through the whole chain.

Laws and closed forms: an index times the truly clear sky is the sky; what takes no light leaves an open road,
what takes all leaves night.
"""

import pickle
from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc
from numpy.testing import assert_allclose, assert_array_equal

import routesolar as rs
from routesolar.errors import UsageError

# The battery is there to be carried along: it is compared with itself only.
pytestmark = pytest.mark.usefixtures("few_days")

N = 40
RIG = rs.Rig(panels=(rs.Panel(rated_w=200.0, tilt_deg=15.0),), battery=rs.Battery(capacity_wh=1000.0))
RAIN = rs.SkySpan(from_clock_s=0, to_clock_s=9, name="rain")
WOOD = rs.Canopy.uniform(N, cover_frac=0.5)


def day_drive(hour="09:00", segments=N, **changes):
    return straight_drive(-42, 147, [utc(f"2026-11-20T{hour}:00+11:00")], segments=segments, **changes)


def open_road(segments):
    return rs.Surroundings(canopy=rs.Canopy.open(segments.count), terrain=rs.Terrain.flat(segments.count))


def driven(sky, segments=None, around=None):
    segments = segments or day_drive()
    return rs.harvest(rs.scene(segments, RIG, around or open_road(segments)), sky)


def clear_light(segments):
    """Return the truly clear global and direct normal irradiance along a drive, and its horizontal beam."""
    sky = rs.scene(segments, RIG, open_road(segments)).open_sky
    ghi, dni = sky.ghi_wm2[0], sky.dni_wm2[0]
    return ghi, dni, dni * np.sin(np.radians(sky.elevation_deg[0]))


def own_shade(segments, beam, view, **changes):
    n = segments.count
    return rs.OwnShade(beam_transmittance_frac=np.full(n, beam), sky_view_frac=np.full(n, view), **changes)


def test_an_index_of_one_is_the_truly_clear_sky():
    result = driven(rs.Sky.of_index(np.ones(N), np.ones(N)))
    ghi, dni, beam = clear_light(day_drive())
    assert_array_equal(result.ghi_wm2, ghi)
    assert_array_equal(result.dni_wm2, dni)
    assert_allclose(result.dhi_wm2, ghi - beam, rtol=1e-12)
    assert_array_equal(result.power_w, result.clear_sky_w)
    assert result.losses_wh["clouds"] == 0


def test_the_index_of_the_clear_scenario_gives_its_light_back():
    named = driven(rs.Sky(name="clear"))
    ghi, dni, _ = clear_light(day_drive())
    result = driven(rs.Sky.of_index(named.ghi_wm2 / ghi, named.dni_wm2 / dni))
    for name in ("ghi_wm2", "dni_wm2", "dhi_wm2"):
        assert_allclose(getattr(result, name), getattr(named, name), rtol=1e-12)
    # The scenario mixes two skies, this one is their mean: watts differ by what the chain bends.
    assert_allclose(result.totals.energy_wh, named.totals.energy_wh, rtol=5e-3)


@pytest.mark.parametrize("name", ["clear", "fair", "broken", "overcast"])
def test_without_the_beam_the_scenarios_light_comes_back_from_its_global_index(name):
    named = driven(rs.Sky(name=name))
    ghi, _, _ = clear_light(day_drive())
    result = driven(rs.Sky.of_index(named.ghi_wm2 / ghi))
    assert_allclose(result.ghi_wm2, named.ghi_wm2, rtol=1e-12)
    # Fair has darker clouds than usual, so that the beam that goes with its mean is less (judgement: 60 W/m2).
    assert np.abs(result.dni_wm2 - named.dni_wm2).max() < 60


@pytest.mark.parametrize("beam", [None, 0.0])
def test_no_light_gives_nothing(beam):
    result = driven(rs.Sky.of_index(np.zeros(N), None if beam is None else np.zeros(N)))
    assert np.all(result.ghi_wm2 < 0.02 * clear_light(day_drive())[0])
    assert 0 <= result.totals.energy_wh < 0.02 * driven(rs.Sky(name="clear")).totals.energy_wh


def test_a_known_beam_leaves_only_the_days_haze_in_doubt():
    result = driven(rs.Sky.of_index(np.full(N, 0.8), np.full(N, 0.7))).totals
    half = (result.energy_high_wh - result.energy_low_wh) / 2 / result.energy_wh
    assert half == pytest.approx(1.2816 * 0.035, rel=0.2)  # the normal distribution's tenth, of a haze of 3.5 %
    unknown = driven(rs.Sky.of_index(np.full(N, 0.8))).totals
    assert unknown.energy_low_wh < result.energy_low_wh


def test_more_light_more_energy_segment_by_segment():
    dim, bright = (driven(rs.Sky.of_index(np.full(N, k), np.full(N, k))) for k in (0.5, 0.9))
    assert np.all(dim.power_w < bright.power_w)
    half = np.where(np.arange(N) < N // 2, 0.5, 0.9)
    mixed = driven(rs.Sky.of_index(half, half))
    assert_array_equal(mixed.ghi_wm2[: N // 2], dim.ghi_wm2[: N // 2])
    assert_array_equal(mixed.ghi_wm2[N // 2 :], bright.ghi_wm2[N // 2 :])


def test_an_index_may_be_unknown_at_night_but_not_by_day():
    evening = day_drive("20:00", step_s=120.0)
    ghi, _, _ = clear_light(evening)
    assert 0 < np.count_nonzero(ghi > 0) < N
    dark = np.where(ghi > 0, 0.8, np.nan)
    result = driven(rs.Sky.of_index(dark, dark), evening)
    assert np.isfinite(result.power_w).all() and np.isfinite(result.totals.energy_low_wh)
    assert_array_equal(
        result.power_w, driven(rs.Sky.of_index(np.full(N, 0.8), np.full(N, 0.8)), evening).power_w
    )
    with pytest.raises(UsageError, match=r"global_index\[3\] is nan, but the sun is up"):
        driven(rs.Sky.of_index(np.where(np.arange(N) == 3, np.nan, 0.8)))


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda: rs.Sky.of_index(np.full(N, 80.0)), "write 80 % as 0.80"),
        (lambda: rs.Sky.of_index(np.full(N, -0.1)), "global_index"),
        (lambda: rs.Sky.of_index([["a"]]), "global_index has shape"),
        (lambda: rs.Sky.of_index(["a"]), "not numbers"),
        (lambda: rs.Sky.of_index(0.8), "give a list"),
        (lambda: rs.Sky.of_index(np.ones(N), np.ones(N - 1)), "beam_index has shape"),
        (lambda: rs.Sky(name="clear", index=0.8), "ClearSkyIndex"),
        (lambda: replace(rs.Sky.of_index(np.ones(N)), forecast="today"), "known"),
        (lambda: replace(rs.Sky.of_index(np.ones(N)), spans=(RAIN,)), "span"),
        (lambda: driven(rs.Sky.of_index(np.ones(N - 1))), f"{N - 1} segments, but the drive has {N}"),
        (lambda: driven(rs.Sky.of_index(np.full(N, 0.3), np.ones(N))), "beam alone"),
    ],
)  # fmt: skip
def test_an_index_that_cannot_be_is_refused(wrong, said):
    with pytest.raises(UsageError, match=said):
        wrong()


def test_a_trip_takes_it_and_a_trip_file_refuses_it(tmp_path):
    trip = rs.read_trip("demo_routes/coast.toml")
    drive = trip.drive()
    sky = rs.Sky.of_index(np.full(drive.count, 0.7), name="pyranometer")
    own = trip.with_(sky=sky)
    assert own.skies == (sky,) and pickle.loads(pickle.dumps(sky)) == sky
    result = rs.harvest(rs.scene(drive, own.rig, open_road(drive)), own.skies)
    assert result.sky == "pyranometer"
    assert own.with_(units="imperial").skies == (sky,)
    with pytest.raises(UsageError, match="trip file"):
        rs.write_trip(own, tmp_path / "own.toml")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("sky", ["clear", "broken"])
def test_a_shade_that_takes_nothing_is_the_open_road_to_the_last_digit(sky):
    segments = day_drive()
    whole = driven(rs.Sky(name=sky), segments, own_shade(segments, 1.0, 1.0))
    bare = driven(rs.Sky(name=sky), segments)
    for name in ("power_w", "plane_wm2", "cell_c", "sky_view_frac", "beam_transmittance_frac"):
        assert_array_equal(getattr(whole, name), getattr(bare, name))
    assert whole.totals == bare.totals and whole.losses_wh == bare.losses_wh and whole.charge == bare.charge


def test_a_shade_that_takes_all_is_night():
    segments = day_drive()
    dark = driven(rs.Sky(name="broken"), segments, own_shade(segments, 0.0, 0.0))
    assert_array_equal(dark.power_w, 0.0)
    assert_array_equal(dark.plane_wm2, 0.0)
    assert dark.totals.energy_wh == dark.totals.energy_high_wh == 0
    assert dark.losses_wh["canopy"] == pytest.approx(dark.rated_clear_wh - dark.losses_wh["clouds"])


def test_half_the_beam_and_half_the_sky_are_half_the_light():
    segments = day_drive()
    bare = driven(rs.Sky(name="broken"), segments)
    half = driven(rs.Sky(name="broken"), segments, own_shade(segments, 0.5, 0.5))
    assert_allclose(half.plane_wm2, bare.plane_wm2 / 2, rtol=1e-12)
    assert half.losses_wh["terrain"] == 0
    assert half.losses_wh["canopy"] == pytest.approx((half.rated_clear_wh - half.losses_wh["clouds"]) / 2)


def test_light_in_whole_patches_costs_no_partial_shade():
    segments = day_drive()
    dappled = driven(rs.Sky(name="clear"), segments, own_shade(segments, 0.5, 0.9))
    patches = driven(rs.Sky(name="clear"), segments, own_shade(segments, 0.5, 0.9, lit_frac=np.ones(N)))
    assert patches.losses_wh["partial_shade"] == pytest.approx(0, abs=1e-9)
    assert dappled.losses_wh["partial_shade"] > 1
    assert_array_equal(dappled.plane_wm2, patches.plane_wm2)


def test_a_shade_of_ones_own_is_not_in_doubt():
    segments = day_drive()
    result = driven(rs.Sky(name="broken"), segments, own_shade(segments, 0.6, 0.7)).totals
    assert result.energy_shade_low_wh is None
    assert (result.energy_low_wh, result.energy_high_wh) == (
        result.energy_clouds_low_wh,
        result.energy_clouds_high_wh,
    )


def test_roofs_over_the_road_stay_dark():
    segments = replace(day_drive(), roofed=np.arange(N) == 5)
    result = driven(rs.Sky(name="broken"), segments, own_shade(segments, 1.0, 1.0))
    assert result.power_w[5] == 0 and result.power_w[6] > 0
    assert result.losses_wh["terrain"] > 0 and result.losses_wh["canopy"] == 0


def test_reports_say_that_the_shade_is_ones_own(tmp_path):
    segments = day_drive()
    result = driven(rs.Sky(name="broken"), segments, own_shade(segments, 0.6, 0.7))
    result.save(tmp_path / "own")
    text = "".join(path.read_text("utf-8") for path in (tmp_path / "own").glob("*.html"))
    assert "an open road was assumed" not in text
    assert "given segment by segment" in text


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        (lambda s: own_shade(s, 60.0, 1.0), "beam_transmittance_frac.*60"),
        (lambda s: own_shade(s, 1.0, -0.1), "sky_view_frac"),
        (lambda s: own_shade(s, np.nan, 1.0), "beam_transmittance_frac.*nan"),
        (lambda s: replace(own_shade(s, 1, 1), sky_view_frac=np.ones(N - 1)), "shape"),
        (lambda s: own_shade(s, 0.5, 1.0, lit_frac=np.full(N, 0.4)), "lit_frac.*less than"),
        (lambda s: rs.scene(s, RIG, own_shade(day_drive(segments=N - 1), 1.0, 1.0)), f"{N - 1} segments.*{N}"),
        (lambda s: rs.scene(s, RIG, "trees"), "Surroundings"),
        (lambda s: replace(open_road(s), canopy=WOOD, shade=own_shade(s, 1, 1)), "one or the other"),
    ],
)  # fmt: skip
def test_a_shade_that_cannot_be_is_refused(wrong, said):
    with pytest.raises(UsageError, match=said):
        wrong(day_drive())
