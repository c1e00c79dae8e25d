"""Scenarios of one drive's sky: what its segments bring on each of many possible days, and each day's chance.

The process is that of bands.py, drawn instead of integrated. The sun is out or hidden; every memory (gaps and
edges, single clouds, cloud fields) is kept until it is renewed, at random moments as often as it forgets, which
gives the same exponential correlation. What lasts all day is drawn once a day. A day's chance is what the Beta
distribution of bands.py gives its sum, so that paths and percentiles tell of the same sky.
"""

from functools import cache
from typing import NamedTuple

import numpy as np

from routesolar.arrays import FloatArray, IntArray, weighted_sum
from routesolar.physics.bands import (
    HAZE_SD,
    HIDDEN_LASTING,
    HIDDEN_RISE,
    MEMORY_MIN,
    NEXT_DAY_CORRELATION,
    OUT_FAST,
    SLOW_MIN,
    SUN_FAST,
    UNSURE_AT_ENDS,
    EnergyMoments,
    Passage,
    StateEnergy,
    beta_quantile,
    energy_moments,
    forgetting,
    plain_arrays,
    unsure_share,
)
from routesolar.physics.compiled import compiled
from routesolar.physics.day_course import even_days_told_frac
from routesolar.physics.distributions import beta_inverse, normal_cdf
from routesolar.physics.on_lit import OnLit
from routesolar.physics.unsure_trees import TreeSpread, mixed_quantiles, tree_states

STEP = 0.5  # of the fast memory: within it the sky stands still
LASTING_CAUSES = 3  # the day's sunshine, its haze, its hidden sky's brightness
_PROBS = np.linspace(0.01, 0.99, 21)  # where a day's sunshine is tabled; linear between


class SkyPaths(NamedTuple):
    """Energy in Wh of n segments on each of s possible days, and the days' chances (s,), together 1."""

    energy_wh: OnLit
    chance: FloatArray


class _Days(NamedTuple):
    """What lasts all day: sunshine by day and stated share (s, days, 21), normal deviations (s, days)."""

    sun_prob: FloatArray
    clean: FloatArray
    dull: FloatArray


def draw_paths(
    energy: StateEnergy,
    passage: Passage,
    forecast: str,
    count: int,
    seed: int,
    trees: TreeSpread | None = None,
) -> SkyPaths:
    """Return `count` scenarios of one drive past n segments; night is 0 on all of them.

    On every segment their mean, weighted by chance, is the expected energy. The part of thin clouds within
    a day that bands.py counts with the sun is left out; it is in the days' chances. With the whole drive's
    spread among other `trees`, (k + 1, 1, 1), each day is one of their equally likely states, brighter or
    darker throughout.

    Raises:
        UsageError: `forecast` is not one of the five words.
        ValueError: the arrays hold more than one drive.
    """
    on, when = plain_arrays(energy, passage)
    if on.shape[1] != 1:
        raise ValueError("scenarios are drawn for one drive at a time")
    most = np.array(np.broadcast_to(energy.most_wh, on.shape[1:]), dtype=np.float64)
    _, day = np.unique(when[3, 0], return_inverse=True)
    rng = np.random.default_rng(seed)
    told_frac = float(np.mean(even_days_told_frac(passage.daylight_min, SLOW_MIN)))
    days = _drawn_days(count, int(day.max()) + 1, unsure_share(forecast), told_frac, rng)
    lit = _lit_segments(on, most, when)
    drawn = np.zeros((count, len(lit.place)))
    _draw(lit, day.astype(np.int64), days, rng, drawn)
    whole = np.zeros((1, on.shape[2]), dtype=np.int64)
    moments = energy_moments(energy, passage, whole, forecast)
    if trees is None or len(trees.nodes) == 0:
        quantile_wh = _quantiles(moments)
    else:
        states = tree_states(trees)
        drawn *= _share_of_states(states, count, seed)[:, None]
        quantile_wh = np.array(mixed_quantiles(states, _levels())).reshape(-1)
    on_lit = OnLit(drawn, lit.place, on.shape[2])
    chance = _chances(on_lit.sums(), quantile_wh)
    out, hidden, prob = on[:3, 0]
    return SkyPaths(_centred(on_lit, chance, prob * out + (1 - prob) * hidden), chance)


def mixed_paths(days: list[SkyPaths], expected_wh: FloatArray) -> SkyPaths:
    """Return the scenarios of equally likely days as one set, about an expected energy (n,) of all of them."""
    chance = np.concatenate([day.chance for day in days]) / len(days)
    lit = np.unique(np.concatenate([np.flatnonzero(expected_wh), *(day.energy_wh.lit for day in days)]))
    drawn, first = np.zeros((len(chance), len(lit))), 0
    for energy_wh, each in days:
        drawn[first : first + len(each), np.searchsorted(lit, energy_wh.lit)] = energy_wh.values
        first += len(each)
    return SkyPaths(_centred(OnLit(drawn, lit, len(expected_wh)), chance, expected_wh), chance)


def _drawn_days(count: int, days: int, unsure: float, told_frac: float, rng: np.random.Generator) -> _Days:
    """Return what lasts all day, on each day of each scenario; days are alike as bands.py has it."""
    shared = np.sqrt(NEXT_DAY_CORRELATION) * rng.standard_normal((count, 1, LASTING_CAUSES))
    own = np.sqrt(1 - NEXT_DAY_CORRELATION) * rng.standard_normal((count, days, LASTING_CAUSES))
    normal = shared + own
    both = _PROBS * (1 - _PROBS)
    # What the statement tells of the day already is taken from what it leaves open; at least nothing is left.
    told = (1 - unsure) * (1 - SUN_FAST) * told_frac * both
    variance = np.clip((both + UNSURE_AT_ENDS) * unsure - told, 1e-6 * both, 0.9 * both)
    size = both / variance - 1
    sun_prob = beta_inverse(_PROBS * size, (1 - _PROBS) * size, normal_cdf(normal[..., :1]))
    return _Days(sun_prob, np.ascontiguousarray(normal[..., 1]), np.ascontiguousarray(normal[..., 2]))


def among_states(paths: SkyPaths, trees: TreeSpread, expected_wh: FloatArray, seed: int) -> SkyPaths:
    """Return scenarios each among trees in one of their states, about an expected energy (n,) of all.

    They take the place of those given.
    """
    if len(trees.nodes) == 0:
        return paths
    share = _share_of_states(tree_states(trees), len(paths.chance), seed)
    paths.energy_wh.values[:] *= share[:, None]
    return SkyPaths(_centred(paths.energy_wh, paths.chance, expected_wh), paths.chance)


def _share_of_states(states: EnergyMoments, count: int, seed: int) -> FloatArray:
    """Return the energy of each of so many days, over the mean, by the state of its trees: all in turn."""
    mean_wh = states.mean_wh.reshape(-1)
    if not mean_wh.mean() > 0:
        return np.ones(count)
    turn: IntArray = np.random.default_rng(seed).permutation(count) % len(mean_wh)
    share: FloatArray = mean_wh[turn] / mean_wh.mean()
    return share


@cache
def _levels() -> FloatArray:
    """Return the chances at which quantiles are computed, (181,); linear between."""
    return normal_cdf(np.linspace(-4.5, 4.5, 181))


def _chances(total_wh: FloatArray, quantile_wh: FloatArray) -> FloatArray:
    """Return each scenario's chance: the distribution's share between the middles to its neighbours' sums."""
    order = np.argsort(total_wh, kind="stable")
    ranked = total_wh[order]
    if ranked[-1] <= ranked[0]:
        return np.full(len(order), 1 / len(order))
    between = np.interp((ranked[1:] + ranked[:-1]) / 2, quantile_wh, _levels())
    chance = np.empty(len(order))
    chance[order] = np.diff(between, prepend=0.0, append=1.0)
    return chance


def _quantiles(moments: EnergyMoments) -> FloatArray:
    """Return the whole drive's energy at every level, in Wh."""
    mean, variance, low, high = (moment[0] for moment in moments)
    return beta_quantile(mean, variance, low, high, _levels())


def _centred(on_lit: OnLit, chance: FloatArray, expected_wh: FloatArray) -> OnLit:
    """Return the same values with each segment's mean brought to the expected energy, (n,)."""
    drawn, expected = on_lit.values, expected_wh[on_lit.lit]
    mean = weighted_sum(chance, drawn)
    drawn *= np.divide(expected, mean, out=np.zeros_like(mean), where=mean > 0)
    drawn[:, mean <= 0] = expected[mean <= 0]
    return on_lit


class _Lit(NamedTuple):
    """The m segments with light: which they are, in how many steps, and what their states bring.

    `first` and `later` (m, 3) are how often each memory is renewed up to the end of the first step, from the
    light before on, and in each further one. `state_wh` and `log_sd` (m, 2) are the mean energy with the sun
    out and hidden, and the deviation of its logarithm; `thinner` is how the hidden sky brightens with sunshine.
    """

    place: IntArray
    steps: IntArray
    first: FloatArray
    later: FloatArray
    prob: FloatArray
    state_wh: FloatArray
    log_sd: FloatArray
    thinner: FloatArray
    most_wh: FloatArray


def _lit_segments(on: FloatArray, most: FloatArray, when: FloatArray) -> _Lit:
    """Return what is drawn: in the dark the memories only fade, whatever the sky does."""
    renewed = _renewals(when)
    place = np.flatnonzero((on[0, 0] != 0) | (on[1, 0] != 0))
    within = renewed[place, 1]
    steps = np.maximum(1, np.ceil(within[:, 0] / STEP)).astype(np.int64)
    later = within / steps[:, None]
    passed = np.vstack([np.zeros(3), np.cumsum(renewed.sum(axis=1), axis=0)])
    before = np.vstack([np.zeros(3), passed[place[:-1] + 1]])[: len(place)]
    first = passed[place] - before + renewed[place, 0] + later
    out_wh, hidden_wh, prob, out_index, hidden_index, out_sd, hidden_sd = on[:, 0, place]
    spread = np.stack([out_sd / out_index, hidden_sd / hidden_index], axis=1)
    return _Lit(
        place=place,
        steps=steps,
        first=first,
        later=later,
        prob=np.clip(prob, 0.01, 0.99),
        state_wh=np.stack([out_wh, hidden_wh], axis=1),
        log_sd=np.sqrt(np.log1p(spread**2)),
        thinner=HIDDEN_RISE / hidden_index,
        most_wh=most[0, place],
    )


@compiled
def _renewals(when: FloatArray) -> FloatArray:
    """Return how often each memory is renewed in the gap before each segment and within it, (n, 2, 3)."""
    n = when.shape[2]
    renewed, rates = np.empty((n, 2, 3)), np.zeros(3)
    for i in range(n):
        gap_min = forgetting(when, 0, i, rates)
        renewed[i, 0], renewed[i, 1] = gap_min / MEMORY_MIN, rates
    return renewed


@compiled
def _draw(lit: _Lit, day: IntArray, days: _Days, rng: np.random.Generator, drawn: FloatArray) -> None:
    """Fill every scenario's energy by segment with light.

    A memory without a past is renewed after a random waiting time, whose logarithm falls evenly.
    """
    count, m = len(drawn), len(lit.place)
    glow, wait = np.zeros(3), np.zeros(3)
    for s in range(count):
        wait[:] = 0.0
        sun, field = 0.0, 0.0
        for i in range(m):
            today, prob, steps = day[lit.place[i]], lit.prob[i], lit.steps[i]
            place = (prob - 0.01) / 0.98 * 20
            k = min(int(place), 19)
            sun_prob = (k + 1 - place) * days.sun_prob[s, today, k]
            sun_prob += (place - k) * days.sun_prob[s, today, k + 1]
            haze = HAZE_SD * days.clean[s, today] - HAZE_SD**2 / 2
            lasting = HIDDEN_LASTING * (1 - prob)
            wh = 0.0
            for step in range(steps):
                for memory in range(3):
                    wait[memory] -= lit.first[i, memory] if step == 0 else lit.later[i, memory]
                    if wait[memory] >= 0.0 and (i > 0 or step > 0):
                        continue
                    wait[memory] = -np.log(1.0 - rng.random())
                    if memory == 2:
                        field = rng.random()
                    else:
                        glow[memory] = rng.standard_normal()
                    if memory == 0:
                        sun = _fresh_sun(rng)
                    if memory == 1:
                        glow[2] = rng.standard_normal()
                if (field if sun < 0.0 else sun) < sun_prob:
                    normal = np.sqrt(OUT_FAST) * glow[0] + np.sqrt(1 - OUT_FAST) * glow[1]
                    state_wh, log_sd = lit.state_wh[i, 0], lit.log_sd[i, 0]
                else:
                    normal = np.sqrt(lasting) * days.dull[s, today] + np.sqrt(1 - lasting) * glow[2]
                    log_sd = lit.log_sd[i, 1]
                    state_wh = lit.state_wh[i, 1] * max(1 + lit.thinner[i] * (sun_prob - prob), 0.1)
                wh += state_wh * np.exp(log_sd * normal - log_sd**2 / 2 + haze)
            drawn[s, i] = min(wh / steps, lit.most_wh[i])


@compiled
def _fresh_sun(rng: np.random.Generator) -> float:
    """Return a gap's or cloud's own level 0-1, or -1 where it follows the cloud field it belongs to."""
    return -1.0 if rng.random() < np.sqrt(1 - SUN_FAST) else rng.random()
