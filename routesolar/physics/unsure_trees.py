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
from scipy.special import betainc, ndtri

from routesolar.arrays import FloatArray
from routesolar.physics.bands import EnergyBands, EnergyMoments, beta_percentiles, beta_shape

NODE_SD = 1.6  # how far width and cover are moved: of 1.3, 1.6 and 1.9 the best at 10 % and 90 %
CROWNS_NODE_SD = UNEVEN_NODE_SD = 1.0
FARTHEST_SD = (
    2.5  # of width and cover together, and of each other: beyond, the polynomials are held, as guesses
)
STATES, DRAWS_A_STATE = 32, 16
CAUSES = 4
_LEAST_FRAC = 1e-3  # of the brightest node: logarithms stop here
_HALVINGS = 40  # of the bracket around a percentile: exact to 1e-12 of it


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
    solved = np.linalg.solve(_terms(trees.nodes, causes).T, _terms(z, causes).T)
    weights = np.asarray(solved.T, dtype=np.float64)
    mean, variance, low, high = (_surface(field, weights) for field in trees.moments)
    return EnergyMoments(mean, variance, low, high)


def mixed_percentiles(states: EnergyMoments) -> EnergyBands:
    """Return P10, P50 and P90 of Beta distributions mixed in equal parts, (...), of fields (m, ...)."""
    return EnergyBands(*mixed_quantiles(states, (0.1, 0.5, 0.9)))


def mixed_quantiles(states: EnergyMoments, levels: Iterable[float]) -> list[FloatArray]:
    """Return energies at levels of Beta distributions mixed in equal parts, (...), of fields (m, ...)."""
    shape = beta_shape(*(field[:, None] for field in states))  # (m, 1, ...), before the levels
    low = np.where(shape.lit > 0, states.low_wh[:, None], 0.0)
    level = np.array(list(levels)).reshape(-1, *(1,) * (low.ndim - 2))
    span = np.broadcast_shapes(level.shape, low.shape[1:])
    below = np.broadcast_to(low.min(axis=0), span)
    above = np.broadcast_to((low + shape.lit * shape.width_wh).max(axis=0), span)
    for _ in range(_HALVINGS):
        middle = (below + above) / 2
        share = np.clip((middle - low) / shape.width_wh, 0.0, 1.0)
        reached = _mean(np.where(shape.lit > 0, betainc(shape.a, shape.b, share), 1.0))
        below, above = np.where(reached < level, middle, below), np.where(reached < level, above, middle)
    return list((below + above) / 2)


def even_normals(count: int, dimensions: int) -> FloatArray:
    """Return points that fill a standard normal space evenly, (count, dimensions), each with its mirror image.

    An additive recurrence on the powers of the root of x^(d + 1) = x + 1, which keeps projections even too (the
    generalised golden ratio; common practice).
    """
    root = 2.0
    for _ in range(60):
        root = (1 + root) ** (1 / (dimensions + 1))
    steps = root ** -(1.0 + np.arange(dimensions))
    half = ndtri((0.5 + np.arange(count // 2)[:, None] * steps) % 1)
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
