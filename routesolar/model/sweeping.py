"""Many departures of one drive, reduced as they are computed: nothing of departures x segments stays."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from routesolar.errors import UsageError
from routesolar.model.battery import Ledger, run_ledger
from routesolar.model.percentiles import passage_of, state_energy, tree_spreads
from routesolar.model.scene import Scene, run, set_scene, unshaded, warnings_of
from routesolar.model.sky import sky_states, states_of
from routesolar.model.sums import leg_starts
from routesolar.model.warmth import day_before_c
from routesolar.physics.shared_sky import stage_doubt
from routesolar.physics.unsure_trees import TreeSpread, spread_over
from routesolar.trip.arrays import FloatArray, IntArray
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.fitting import check_canopy_fits
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments
from routesolar.trip.sky import Sky, SkyStates
from routesolar.trip.surroundings import Canopy, Terrain
from routesolar.trip.sweep import OtherTrees, Stages, Sweep, SweepCharge
from routesolar.wanted import in_steps, share_of_work

BANDS = ("low", "mid", "high")  # as results name the 10th, 50th and 90th percentile
BLOCK_POINTS = 1_000_000  # departures x segments held at once
SCENE_SHARE = 0.9  # of the time, among trees
STAGE_S = 300.0  # a sixth of the hour in which clouds still tell of each other, and few enough for pairs


@dataclass(frozen=True, slots=True)
class _Swept:
    """Arrays of a block of departures by name: (s, d, ...), of the leading sky (d, ...), at k nodes (k, d)."""

    per_sky: dict[str, FloatArray]
    leading: dict[str, FloatArray]
    stages: dict[str, FloatArray]
    charge: dict[str, FloatArray]
    others: dict[str, FloatArray]
    nodes: FloatArray
    rests_on: tuple[str, str, str]


def sweep(segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain, skies: Sequence[Sky]) -> Sweep:
    """Return every departure of a drive reduced to its sums; the first sky leads.

    A departure gives the same, bit for bit, alone as among many, and the same as `simulate`.

    Raises:
        UsageError: no sky is given.
        UsageError: a sky or forecast is not known.
    """
    if not skies:
        raise UsageError("a sweep needs at least one sky")
    stage = stages_of(segments)
    parts = []
    for block in in_steps(_blocks(segments)):
        with share_of_work(0.0, SCENE_SHARE):
            scene = _scene(segments, rig, canopy, terrain, block)
        with share_of_work(SCENE_SHARE, 1.0):
            parts.append(_swept(scene, skies, stage))
    return _sweep(segments, skies, stage, parts, warnings_of(segments, canopy, terrain, skies[0]))


def sweep_scene(scene: Scene, skies: Sequence[Sky], warnings: tuple[str, ...]) -> Sweep:
    """Return a scene's departures reduced to their sums, as `sweep` does; all of them are held at once."""
    stage = stages_of(scene.segments)
    return _sweep(scene.segments, skies, stage, [_swept(scene, skies, stage)], warnings)


def _sweep(
    segments: Segments, skies: Sequence[Sky], stage: IntArray, parts: list[_Swept], warnings: tuple[str, ...]
) -> Sweep:
    joined = _joined(parts)
    driving = np.flatnonzero(~segments.stopped)
    last = int(driving[-1]) if len(driving) else segments.count - 1
    return Sweep(
        departure_utc_s=segments.departure_utc_s,
        arrival_utc_s=segments.start_utc_s[:, last] + segments.duration_s[:, last],
        time_zone=segments.time_zone,
        distance_km=float(segments.length_m.sum() / 1000),
        legs=segments.legs,
        skies=tuple(sky.name for sky in skies),
        stages=Stages(**_stage_places(segments, stage), **joined.stages),
        others=OtherTrees(nodes=joined.nodes, rests_on=joined.rests_on, **joined.others),
        charge=SweepCharge(**joined.charge) if joined.charge else None,
        **joined.per_sky,
        **joined.leading,
        notes=segments.notes,
        warnings=warnings,
    )


def departure_watts(
    segments: Segments,
    rig: Rig,
    canopy: Canopy,
    terrain: Terrain,
    sky: Sky,
    departures: slice = slice(None),
) -> DepartureWatts:
    """Return the watts expected on every segment of some of the departures, all by default, for drawing.

    It is the chain of `sweep`: over time they add up to its energies under the same sky, in single precision.

    Raises:
        UsageError: the sky or its forecast is not known.
    """
    chosen, crowns = _departures(segments, departures), _seasons(canopy.certain(), departures)
    power_w = np.empty(chosen.duration_s.shape, dtype=np.float32)
    for block in _blocks(chosen):
        power_w[block] = scene_watts(_scene(chosen, rig, crowns, terrain, block), sky).power_w
    return DepartureWatts(segments=chosen, power_w=power_w)


def scene_watts(scene: Scene, sky: Sky) -> DepartureWatts:
    """Return the watts expected in a scene, as `departure_watts` does."""
    states = sky_states(sky, scene.segments, scene.sun.apparent_elevation_deg)
    power_w = run(scene, [states]).expected_w[0].astype(np.float32)
    return DepartureWatts(segments=scene.segments, power_w=power_w)


def _scene(segments: Segments, rig: Rig, canopy: Canopy, terrain: Terrain, block: slice) -> Scene:
    """Return the scene of some of the departures."""
    return set_scene(_departures(segments, block), rig, _seasons(canopy, block), terrain)


def stages_of(segments: Segments) -> IntArray:
    """Return the stage of every segment, (n,): consecutive, of some five minutes in the slowest departure."""
    ends_s = np.cumsum(segments.duration_s.max(axis=0))
    _, stage = np.unique(np.floor((ends_s - 1e-6) / STAGE_S), return_inverse=True)
    return np.asarray(stage, dtype=np.int64)


def _swept(scene: Scene, skies: Sequence[Sky], stage: IntArray) -> _Swept:
    """Return one block of departures reduced."""
    segments = scene.segments
    states = states_of(skies, segments, scene.sun.apparent_elevation_deg)
    power = run(scene, states)
    hours = segments.duration_s / 3600
    energy_wh = power.expected_w * hours
    open_wh = run(unshaded(scene), states[:1]).expected_w[0] * hours
    stopped = segments.stopped
    bounds = [*leg_starts(segments), segments.count]
    per_sky = {
        "energy_wh": summed(energy_wh),
        "leg_wh": np.stack([summed(energy_wh[..., a:b]) for a, b in pairwise(bounds)], -1),
        "driving_wh": summed(energy_wh[..., ~stopped]),
        "stopped_wh": summed(energy_wh[..., stopped]),
    }
    whole = np.zeros((1, segments.count), dtype=np.int64)
    (trees,) = tree_spreads(scene, power, states[:1], skies[:1], whole)
    stages = dict(
        stage_doubt(
            state_energy(scene, power, 0, states[0]), passage_of(scene), stage, skies[0].forecast
        )._asdict()
    )
    starts = np.flatnonzero(np.diff(stage, prepend=-1))
    stages |= {
        "energy_wh": np.add.reduceat(energy_wh[0], starts, axis=-1),
        "end_utc_s": (segments.start_utc_s + segments.duration_s)[:, np.append(starts[1:], segments.count) - 1],
    }
    charge = {} if scene.rig.battery is None else _charge(scene, power.expected_w[0], states[0])
    leading = {"open_sky_wh": summed(open_wh), **_percentiles(trees)}
    at_nodes = {name: field[1:, :, 0] for name, field in trees.moments._asdict().items()}
    return _Swept(per_sky, leading, stages, charge, at_nodes, trees.nodes, scene.others.rests_on)


def summed(values: FloatArray) -> FloatArray:
    """Return sums over the last axis, each as of that row alone."""
    sums: FloatArray = np.ascontiguousarray(values).sum(axis=-1)
    return sums


def _percentiles(trees: TreeSpread) -> dict[str, FloatArray]:
    """Return the percentiles of the whole drive, and the clouds' spread among the trees as stated, (d,)."""
    bands = spread_over(trees).everything
    found = {f"energy_{name}_wh": band[:, 0] for name, band in zip(BANDS, bands, strict=True)}
    return found | {name: field[0, :, 0] for name, field in trees.moments._asdict().items()}


def _charge(scene: Scene, power_w: FloatArray, states: SkyStates) -> dict[str, FloatArray]:
    """Return the battery's figures, (d,), on an average day of the leading sky."""
    segments = scene.segments
    timing = segments.start_utc_s, segments.duration_s
    day_c = day_before_c(segments, *timing, states.air_c)
    zone, stopped = segments.time_zone, segments.stopped
    ledger = run_ledger(*timing, stopped, power_w, states.air_c, scene.rig, zone, day_c)
    capacity_wh = 0.0 if scene.rig.battery is None else scene.rig.battery.capacity_wh
    return charge_figures(ledger) | {"capacity_wh": np.full(len(power_w), capacity_wh)}


def charge_figures(ledger: Ledger) -> dict[str, FloatArray]:
    """Return a ledger's figures for each departure, keyed as SweepCharge has them."""
    sums = ("load_wh", "alternator_wh", "shortfall_wh")
    return {name: getattr(ledger, name).sum(axis=1) for name in sums} | {
        "curtailed_wh": (ledger.cold_wh + ledger.full_wh).sum(axis=1),
        "soc_end_frac": ledger.soc_frac[:, -1],
        "lowest_soc_frac": ledger.lowest_soc_frac,
        "load_share_frac": ledger.load_share_frac,
    }


def departing(segments: Segments, canopy: Canopy, departures: slice) -> tuple[Segments, Canopy]:
    """Return some of the departures, and the canopy in their seasons.

    Raises:
        UsageError: the canopy is of other segments.
    """
    check_canopy_fits(segments, canopy)
    return _departures(segments, departures), _seasons(canopy, departures)


def _blocks(segments: Segments) -> list[slice]:
    """Return the departures in blocks that fit into memory."""
    step = max(1, BLOCK_POINTS // segments.count)
    return [slice(first, first + step) for first in range(0, len(segments.departure_utc_s), step)]


def _departures(segments: Segments, block: slice) -> Segments:
    """Return some of the departures."""
    return replace(
        segments,
        start_utc_s=segments.start_utc_s[block],
        duration_s=segments.duration_s[block],
        departure_utc_s=segments.departure_utc_s[block],
    )


def _seasons(canopy: Canopy, block: slice) -> Canopy:
    """Return the canopy in the seasons of some of the departures."""
    seasonal, doubt = canopy.crown_transmittance_frac, canopy.doubt
    if seasonal is not None and len(seasonal) > 1:
        canopy = replace(canopy, crown_transmittance_frac=seasonal[block])
    standing = canopy.standing_transmittance_frac
    if standing is not None and standing.shape[1] > 1:
        canopy = replace(canopy, standing_transmittance_frac=standing[:, block])
    if len(doubt.crown_transmittance_sd_frac) > 1:
        of_block = doubt.crown_transmittance_sd_frac[block]
        canopy = replace(canopy, doubt=replace(doubt, crown_transmittance_sd_frac=of_block))
    return canopy


def _stage_places(segments: Segments, stage: IntArray) -> dict[str, FloatArray]:
    """Return where the stages are: middle of their middle segment, and kilometres at their end."""
    starts = np.flatnonzero(np.diff(stage, prepend=-1))
    ends = np.append(starts[1:], segments.count)
    middle = (starts + ends) // 2
    return {
        "latitude_deg": segments.middle_latitude_deg[middle],
        "longitude_deg": segments.middle_longitude_deg[middle],
        "along_km": (segments.along_m + segments.length_m)[ends - 1] / 1000,
    }


def _joined(parts: list[_Swept]) -> _Swept:
    """Return the blocks one after the other."""
    axes = {"per_sky": 1, "leading": 0, "stages": 0, "charge": 0, "others": 1}

    def join(group: str) -> dict[str, Any]:
        first = getattr(parts[0], group)
        return {
            name: np.concatenate([getattr(part, group)[name] for part in parts], axis=axes[group])
            for name in first
        }

    return _Swept(**{name: join(name) for name in axes}, nodes=parts[0].nodes, rests_on=parts[0].rests_on)
