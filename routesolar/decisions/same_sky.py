"""Drives laid side by side under one sky, among one wood: how likely one brings more than another."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from routesolar.physics.bands import EnergyMoments
from routesolar.physics.shared_sky import (
    Trace,
    beats_frac,
    correlation,
    correlation_with,
    shared_covariance,
    win_frac,
)
from routesolar.physics.unsure_trees import TreeSpread, among_trees, even_normals
from routesolar.trip.arrays import FloatArray
from routesolar.trip.sweep import Sweep
from routesolar.wanted import still_wanted

WOODS = 32  # states of all the trees concerned, evenly spread: a chance is good to some 2 points
CAUSES = ("width", "cover", "crowns", "uneven")


def best_wins_frac(sweep: Sweep, best: int) -> FloatArray:
    """Return the chance that one departure brings more than each under the same sky, (d,); a tie is half.

    All pass the same trees, whatever these are.
    """
    every = [(sweep, i) for i in range(len(sweep.departure_utc_s))]
    shared = correlation_with(trace_of(sweep, best), [trace_of(*drive) for drive in every])
    chances = [beats_frac(moments, best, shared) for moments in _among_woods(every)]
    mean: FloatArray = np.mean(chances, axis=0)
    return mean


def best_of_all_frac(drives: list[tuple[Sweep, int]], seed: int) -> FloatArray:
    """Return each drive's chance of bringing the most of all under one sky, (r,); ties are shared.

    What is said of trees in the same words is wrong by the same on every road.
    """
    shared = correlation(shared_covariance([trace_of(sweep, i) for sweep, i in drives]))
    chances = [win_frac(moments, shared, seed) for moments in _among_woods(drives)]
    mean: FloatArray = np.mean(chances, axis=0)
    return mean


def worth(sweeps: list[Sweep], worths_wh: list[FloatArray]) -> list[Sweep]:
    """Return sweeps with what their departures are worth, (d,), in place of their energy, and its doubt.

    Only differences count then: all are moved up together by as much as keeps every energy above zero.
    """
    more_wh = [worth_wh - sweep.energy_wh[0] for sweep, worth_wh in zip(sweeps, worths_wh, strict=True)]
    least_wh = min(0.0, *(float(more.min()) for more in more_wh))
    moved = [more - least_wh for more in more_wh]
    if not any(more.any() for more in moved):
        return sweeps
    return [_moved(sweep, more) for sweep, more in zip(sweeps, moved, strict=True)]


def _moved(sweep: Sweep, more_wh: FloatArray) -> Sweep:
    others = sweep.others
    moved = {name: getattr(sweep, name) + more_wh for name in ("mean_wh", "low_wh", "high_wh")}
    others = replace(others, **{name: getattr(others, name) + more_wh for name in moved})
    return replace(sweep, others=others, **moved)


def trace_of(sweep: Sweep, departure: int) -> Trace:
    """Return one departure's stages as physics.shared_sky takes them."""
    stages = sweep.stages
    return Trace(
        stages.latitude_deg,
        stages.longitude_deg,
        stages.middle_min[departure],
        stages.solar_day[departure],
        stages.passing_wh[departure],
        stages.lasting_wh[departure],
    )


def _among_woods(drives: list[tuple[Sweep, int]]) -> Iterator[EnergyMoments]:
    """Yield the drives' clouds, (r,), in several states of the trees; in one where no tree is in doubt."""
    stated = _moments(drives)
    unsure = [r for r, (sweep, _) in enumerate(drives) if len(sweep.others.nodes)]
    if not unsure:
        yield stated
        return
    causes: dict[tuple[str, str], int] = {}
    for r in unsure:
        for named in _causes(drives[r][0]):
            causes.setdefault(named, len(causes))
    z = even_normals(WOODS, len(causes))
    fields = [np.tile(field, (WOODS, 1)) for field in stated]
    for r in unsure:
        own = [causes[named] for named in _causes(drives[r][0])]
        for field, values in zip(fields, among_trees(_tree_spread(*drives[r]), z[:, own]), strict=True):
            field[:, r] = values
    for k in range(WOODS):
        still_wanted()
        yield EnergyMoments(*(field[k] for field in fields))


def _causes(sweep: Sweep) -> list[tuple[str, str]]:
    """Return the names of a road's errors, with what each rests on; unevenness is one for all roads."""
    return list(zip(CAUSES, (*sweep.others.rests_on, ""), strict=True))


def _tree_spread(sweep: Sweep, departure: int) -> TreeSpread:
    others = sweep.others
    fields = (
        np.append(getattr(sweep, name)[departure], getattr(others, name)[:, departure])
        for name in EnergyMoments._fields
    )
    return TreeSpread(np.array(others.nodes), EnergyMoments(*fields))


def _moments(drives: list[tuple[Sweep, int]]) -> EnergyMoments:
    fields = ((getattr(sweep, name)[i] for sweep, i in drives) for name in EnergyMoments._fields)
    return EnergyMoments(*(np.array(list(field)) for field in fields))
