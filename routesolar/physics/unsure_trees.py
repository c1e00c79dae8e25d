"""The energy over all that is not known: clouds under each state of the trees, and the states of the trees.

Width of the opening, cover, crown transmittance and how uneven the shade on a panel is are each off by one
unknown amount, the same all along the road: four independent standard normal numbers z. The chain runs with the
trees as stated and at a few nodes of z; between, the logarithms of mean, standard deviation and bounds of the
clouds' distribution are polynomials, quadratic in width and cover (a regular pentagon and its centre: the
smallest rotatable design of second order, Box & Hunter 1957, Ann. Math. Stat. 28:195), linear in the others.
Many equally likely z then give the mixture.

Known error: percentiles of a drive's energy are good to 1 % of it. Those of half an hour on one straight road
under one sun, where the light comes in a step as the opening widens, are not: up to 1.2 % in twelve such cases.
"""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.arrays import FloatArray
from routesolar.physics.bands import EnergyBands, EnergyMoments, beta_percentiles, beta_shape
from routesolar.physics.compiled import compiled
from routesolar.physics.distributions import beta_below, beta_log_scale, normal_quantile

NODE_SD = 1.6  # how far width and cover are moved: of 1.3, 1.6 and 1.9 the best at 10 % and 90 %
CROWNS_NODE_SD = UNEVEN_NODE_SD = 1.0
FARTHEST_SD = (
    2.5  # of width and cover together, and of each other: beyond, the polynomials are held, as guesses
)
STATES, DRAWS_A_STATE = 32, 16
CAUSES = 4
_LEAST_FRAC = 1e-3  # of the brightest node: logarithms stop here
_MOST_STEPS = 60  # towards a percentile
_NEAR_FRAC = 1e-12  # of the range: a step so short is the last


class TreeSpread(NamedTuple):
    """Clouds' distributions, (k + 1, ...): first among the trees as stated, then at the nodes (k, 4).

    A node is how many standard deviations width, cover, crown transmittance and unevenness are above what is
    stated.
    """

    nodes: FloatArray
    moments: EnergyMoments


class Spread(NamedTuple):
    """Percentiles of all that is not known, of the clouds alone with the trees as stated, of the trees alone.

    The last are the 10th and 90th of the mean over the clouds; None where trees are not in doubt.
    """

    everything: EnergyBands
    clouds: EnergyBands
    trees_low_wh: FloatArray | None
    trees_high_wh: FloatArray | None


def tree_nodes(causes: tuple[bool, bool, bool, bool]) -> FloatArray:
    """Return the nodes, (k, 4), for those of width, cover, crowns and unevenness in doubt; k is 0 to 7."""
    width, cover, crowns, uneven = causes
    nodes = []
    if width and cover:
        turn = np.pi + 2 * np.pi * np.arange(5) / 5  # a corner at the narrow road, where the light goes fast
        nodes += [(NODE_SD * np.cos(angle), NODE_SD * np.sin(angle), 0.0, 0.0) for angle in turn]
    elif width or cover:
        nodes += [(side * width, side * cover, 0.0, 0.0) for side in (-NODE_SD, NODE_SD)]
    if crowns:
        nodes.append((0.0, 0.0, CROWNS_NODE_SD, 0.0))
    if uneven:
        nodes.append((0.0, 0.0, 0.0, UNEVEN_NODE_SD))
    return np.array(nodes).reshape(-1, CAUSES)


def spread_over(trees: TreeSpread) -> Spread:
    """Return the percentiles of energies in Wh, (...), over clouds and trees and over either alone."""
    clouds = beta_percentiles(*(field[0] for field in trees.moments))
    if len(trees.nodes) == 0:
        return Spread(clouds, clouds, None, None)
    drawn = among_trees(trees, even_normals(STATES * DRAWS_A_STATE, CAUSES))
    low, high = np.quantile(drawn.mean_wh, (0.1, 0.9), axis=0)
    return Spread(mixed_percentiles(_in_states(drawn)), clouds, low, high)


def tree_states(trees: TreeSpread) -> EnergyMoments:
    """Return the clouds' distributions among the trees in equally likely states, (32, ...), dark to bright."""
    return _in_states(among_trees(trees, even_normals(STATES * DRAWS_A_STATE, CAUSES)))


def among_trees(trees: TreeSpread, z: FloatArray) -> EnergyMoments:
    """Return the clouds' distributions among other trees, (m, ...), for m standard normal z (m, 4)."""
    z = np.clip(z, -FARTHEST_SD, FARTHEST_SD)
    away = np.linalg.norm(z[:, :2], axis=1, keepdims=True)
    z[:, :2] *= np.minimum(1.0, FARTHEST_SD / np.maximum(away, 1e-9))
    causes = np.any(trees.nodes != 0, axis=0)
    # Solved for all draws at once, the last bits would depend on the number of processors.
    inverse = np.linalg.inv(_terms(trees.nodes, causes))
    weights = np.asarray(np.einsum("mi,ik->mk", _terms(z, causes), inverse))
    mean, variance, low, high = (_surface(field, weights) for field in trees.moments)
    return EnergyMoments(mean, variance, low, high)


def mixed_percentiles(states: EnergyMoments) -> EnergyBands:
    """Return P10, P50 and P90 of Beta distributions mixed in equal parts, (...), of fields (m, ...)."""
    return EnergyBands(*mixed_quantiles(states, (0.1, 0.5, 0.9)))


def mixed_quantiles(states: EnergyMoments, levels: Iterable[float]) -> list[FloatArray]:
    """Return energies at levels of Beta distributions mixed in equal parts, (...), of fields (m, ...)."""
    shape = beta_shape(*states)
    low = np.where(shape.lit > 0, states.low_wh, 0.0)
    a, b, width, lit, least = (np.ascontiguousarray(field).reshape(len(low), -1) for field in (*shape, low))
    found = _quantiles_of_mixture(a, b, width, lit, least, np.array(list(levels)))
    return list(found.reshape(len(found), *low.shape[1:]))


@compiled
def _quantiles_of_mixture(
    a: FloatArray, b: FloatArray, width: FloatArray, lit: FloatArray, low: FloatArray, levels: FloatArray
) -> FloatArray:
    """Return the quantiles (levels, cells) of states (m, cells): Newton's steps within a shrinking bracket."""
    m, cells = a.shape
    found, log_scale = np.empty((len(levels), cells)), np.empty(m)
    for c in range(cells):
        for s in range(m):
            log_scale[s] = beta_log_scale(a[s, c], b[s, c])
        least, most = low[:, c].min(), (low[:, c] + lit[:, c] * width[:, c]).max()
        middle = 0.5 * (least + most)
        for k in range(len(levels)):
            below, above, here = least, most, middle
            for _ in range(_MOST_STEPS):
                reached, density = 0.0, 0.0
                for s in range(m):
                    if lit[s, c] > 0.0:
                        share = min(max((here - low[s, c]) / width[s, c], 0.0), 1.0)
                        chance, per_share = beta_below(a[s, c], b[s, c], share, log_scale[s])
                        reached, density = reached + chance, density + per_share / width[s, c]
                    else:
                        reached += 1.0
                if reached < levels[k] * m:
                    below = here
                else:
                    above = here
                after = here - (reached - levels[k] * m) / density if density > 0.0 else np.inf
                if not below <= after <= above:
                    after = 0.5 * (below + above)
                step, here = abs(after - here), after
                if not step > _NEAR_FRAC * (most - least):
                    break
            found[k, c] = middle = here
    return found


def even_normals(count: int, dimensions: int) -> FloatArray:
    """Return points that fill a standard normal space evenly, (count, dimensions), each with its mirror image.

    An additive recurrence on the powers of the root of x^(d + 1) = x + 1, which keeps projections even too (the
    generalised golden ratio; common practice).
    """
    root = 2.0
    for _ in range(60):
        root = (1 + root) ** (1 / (dimensions + 1))
    steps = root ** -(1.0 + np.arange(dimensions))
    half = normal_quantile((0.5 + np.arange(count // 2)[:, None] * steps) % 1)
    return np.concatenate([half, -half])


def _terms(z: FloatArray, causes: NDArray[np.bool_]) -> FloatArray:
    """Return the polynomials' terms without the constant, (m, as many as nodes)."""
    width, cover, crowns, uneven = z.T
    terms = []
    for number, value in enumerate((width, cover)):
        if causes[number]:
            terms += [value, value**2]
    if causes[0] and causes[1]:
        terms.append(width * cover)
    if causes[2]:
        terms.append(crowns)
    if causes[3]:
        terms.append(uneven)
    return np.stack(terms, axis=1)


def _surface(values: FloatArray, weights: FloatArray) -> FloatArray:
    """Return a field at other trees, (m, ...), from (k + 1, ...): nothing stays nothing, and NaN stays NaN."""
    least = _LEAST_FRAC * values.max(axis=0)
    logs = np.log(np.where(least > 0, np.maximum(values, least), np.where(np.isnan(least), np.nan, 1.0)))
    surface = np.zeros((len(weights), *values.shape[1:]))
    for weight, log in zip(weights.T, logs[1:], strict=True):
        surface += weight.reshape(-1, *(1,) * least.ndim) * (log - logs[0])
    return np.where(least == 0, 0.0, np.exp(logs[0] + surface))


def _in_states(drawn: EnergyMoments) -> EnergyMoments:
    """Return equally likely states, from dark to bright, each with the variance of all drawn into it."""
    order = np.argsort(drawn.mean_wh, axis=0)
    mean, variance, low, high = (
        np.take_along_axis(field, order, axis=0).reshape(STATES, DRAWS_A_STATE, *field.shape[1:]).swapaxes(0, 1)
        for field in drawn
    )
    middle = _mean(mean)
    return EnergyMoments(middle, _mean(variance) + _mean((mean - middle) ** 2), _mean(low), _mean(high))


def _mean(values: FloatArray) -> FloatArray:
    """Return the mean over the first axis, added up in order, so that many drives give what one gives alone."""
    total = values[0].copy()
    for value in values[1:]:
        total += value
    mean: FloatArray = total / len(values)
    return mean
