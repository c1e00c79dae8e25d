"""Many departures at once: each as it is alone."""

from dataclasses import replace

import numpy as np
import pytest
from drives import straight_drive, utc

from routesolar.model import sweeping
from routesolar.model.battery import run_ledger
from routesolar.model.simulation import simulate
from routesolar.model.sky import sky_states
from routesolar.model.sweeping import departure_watts, sweep
from routesolar.trip.rig import Battery, Load, Panel, Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkySpan
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.sweep import Sweep

DAWN = utc("2026-11-20T04:00+11:00")
SKIES = [Sky(name=name) for name in ("broken", "clear", "overcast")]
RIG = Rig(
    panels=(Panel(rated_w=200.0, tilt_deg=8.0),),
    battery=Battery(capacity_wh=1500.0),
    loads=(Load(power_w=60.0, when="20:00-06:00"), Load(power_w=5.0)),
)


def drive(departures: list[float], segments: int = 120) -> Segments:
    return straight_drive(-41.5, 146.5, departures, segments=segments, step_s=60.0, heading_deg=70.0)


def swept(segments: Segments, canopy: Canopy | None = None, skies: list[Sky] | None = None) -> Sweep:
    n = segments.count
    return sweep(segments, RIG, canopy or Canopy.open(n), Terrain.flat(n), skies or SKIES)


def figures(result: Sweep, departure: int) -> dict[str, list[float]]:
    """Everything a sweep says of one departure."""
    per_sky = {
        name: getattr(result, name)[:, departure].tolist() for name in ("energy_wh", "leg_wh", "driving_wh")
    }
    names = "arrival_utc_s open_sky_wh energy_low_wh energy_mid_wh energy_high_wh variance_wh2 high_wh".split()
    assert result.charge is not None
    return (
        per_sky
        | {name: [float(getattr(result, name)[departure])] for name in names}
        | {
            name: [float(getattr(result.charge, name)[departure])]
            for name in ("soc_end_frac", "load_share_frac")
        }
        | {"stages": result.stages.energy_wh[departure].tolist()}
    )


@pytest.mark.parametrize("cover_frac", [0.0, 0.5])
def test_a_departure_is_the_same_alone_as_in_a_sweep(cover_frac):
    departures = [DAWN + 3600.0 * k for k in range(8)]
    n, alone = (24, 5)
    canopy = Canopy.uniform(n, cover_frac=cover_frac)
    many = swept(drive(departures, n), canopy)
    assert figures(many, alone) == figures(swept(drive(departures[alone : alone + 1], n), canopy), 0)


@pytest.mark.parametrize("aim", ["fixed", "sun"])
def test_every_departure_has_the_trees_of_its_season(aim):
    departures, n = [DAWN + 7200.0 * k for k in range(4)], 24
    segments = replace(drive(departures, n), stopped=np.ones(n, dtype=bool), speed_mps=np.zeros(n))
    crowns = np.array([0.1, 0.6, 0.1, 0.35])[:, None]
    canopy = Canopy.uniform(n, cover_frac=0.5)
    rig = Rig(panels=(Panel(rated_w=100.0, aim=aim, use="stopped"),))

    def energies(of: Segments, crowns: np.ndarray) -> list[float]:
        seasonal = replace(canopy, crown_transmittance_frac=crowns)
        return sweep(of, rig, seasonal, Terrain.flat(n), SKIES).energy_wh[0].tolist()

    alone = [
        energies(
            replace(
                segments,
                start_utc_s=segments.start_utc_s[i : i + 1],
                duration_s=segments.duration_s[i : i + 1],
                departure_utc_s=segments.departure_utc_s[i : i + 1],
            ),
            crowns[i : i + 1],
        )[0]
        for i in range(4)
    ]
    assert energies(segments, crowns) == alone


def test_a_departure_is_the_same_in_a_sweep_as_simulated():
    departures = [DAWN + 3600.0 * k for k in range(6)]
    segments = drive(departures[4:5])
    n = segments.count
    one = simulate(segments, RIG, Canopy.open(n), Terrain.flat(n), SKIES)
    many = swept(drive(departures))
    assert [sky.energy_wh for sky in one.skies] == many.energy_wh[:, 4].tolist()
    assert [leg.energy_wh for leg in one.legs] == many.leg_wh[0, 4].tolist()
    assert one.totals.energy_low_wh == many.energy_low_wh[4]
    assert one.totals.energy_high_wh == many.energy_high_wh[4]
    assert one.totals.open_sky_wh == many.open_sky_wh[4]
    assert one.driving_wh == many.driving_wh[0, 4]
    # The battery of a sweep runs on an average day: the expected watts all along.
    times = segments.start_utc_s, segments.duration_s, segments.stopped
    air_c = sky_states(SKIES[0], segments, np.zeros((1, n))).air_c
    average = run_ledger(*times, one.power_w[None], air_c, RIG, segments.time_zone)
    assert many.charge is not None
    assert average.soc_frac[0, -1] == many.charge.soc_end_frac[4]
    assert average.load_share_frac[0] == many.charge.load_share_frac[4]


def test_blocks_do_not_show(monkeypatch):
    segments = drive([DAWN + 3600.0 * k for k in range(7)], 40)
    crowns = np.linspace(0.1, 0.6, 7)[:, None]
    canopy = replace(Canopy.uniform(40, cover_frac=0.5), crown_transmittance_frac=crowns)
    skies = [Sky(name="broken", spans=(SkySpan(from_clock_s=36000, to_clock_s=50000, name="rain"),))]
    whole = swept(segments, canopy, skies)
    monkeypatch.setattr(sweeping, "BLOCK_POINTS", 100)
    parts = swept(segments, canopy, skies)
    for departure in range(7):
        assert figures(parts, departure) == figures(whole, departure)


def test_stages_hold_the_whole_energy_and_some_five_minutes_each():
    result = swept(drive([DAWN, DAWN + 7200.0]))
    assert result.stages.energy_wh.sum(axis=1) == pytest.approx(result.energy_wh[0], rel=1e-12)
    assert result.stages.energy_wh.shape[1] == 120 * 60 / sweeping.STAGE_S
    assert result.stages.along_km[-1] == pytest.approx(result.distance_km, rel=1e-12)
    assert np.all(np.diff(result.stages.end_utc_s, axis=1) == sweeping.STAGE_S)


def test_night_gives_exactly_nothing_and_no_share_of_it():
    result = swept(drive([utc("2026-11-20T00:00+11:00")]))
    assert np.all(result.energy_wh == 0.0) and np.all(result.energy_high_wh == 0.0)
    assert np.isnan(result.shade_loss_frac[0])


def test_arrival_is_the_end_of_the_last_driving():
    segments = drive([DAWN])
    stopped = np.arange(segments.count) >= 100
    parked = replace(segments, stopped=stopped, speed_mps=np.where(stopped, 0.0, segments.speed_mps))
    assert swept(parked).arrival_utc_s[0] == DAWN + 100 * 60.0
    standing = replace(segments, stopped=np.ones(segments.count, dtype=bool))
    assert swept(standing).arrival_utc_s[0] == segments.arrival_utc_s[0]


def test_a_sweep_without_sky_is_refused():
    segments = drive([DAWN])
    with pytest.raises(ValueError, match="at least one sky"):
        sweep(segments, RIG, Canopy.open(segments.count), Terrain.flat(segments.count), [])


def test_watts_for_drawing_add_up_to_the_sweeps_energy(monkeypatch):
    monkeypatch.setattr(sweeping, "BLOCK_POINTS", 100)  # blocks of two departures
    segments = drive([DAWN + 3600.0 * k for k in range(5)], 48)
    canopy = Canopy.uniform(48, cover_frac=0.5)
    drawn = departure_watts(segments, RIG, canopy, Terrain.flat(48), SKIES[0])
    energy_wh = (drawn.power_w * segments.duration_s / 3600).sum(axis=1)
    # Single precision: seven digits.
    assert energy_wh == pytest.approx(swept(segments, canopy).energy_wh[0], rel=1e-6)
    some = departure_watts(segments, RIG, canopy, Terrain.flat(48), SKIES[0], slice(2, 4))
    assert np.array_equal(some.power_w, drawn.power_w[2:4])
    assert some.segments.departure_utc_s.tolist() == segments.departure_utc_s[2:4].tolist()
