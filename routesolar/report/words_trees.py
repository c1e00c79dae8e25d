"""What was used of the trees, said plainly: by stretch where it differs, and where each came from."""

from collections.abc import Callable
from itertools import groupby

import numpy as np

from routesolar.report.units import Units, height, percent, readable
from routesolar.trip.arrays import FloatArray
from routesolar.trip.basis import Basis
from routesolar.trip.names import printable
from routesolar.trip.segments import Segments
from routesolar.trip.surroundings import Canopy
from routesolar.trip.trees_used import TreesUsed, Used

_MOST_LABELS = 4  # that are told with their stretches; more are told as a span of values
_MOST_SPANS = 4  # of one value along the road, before the rest is only counted
_FULL_FRAC, _BARE_FRAC = 0.95, 0.05  # of the leaves
_Told = Callable[[Used, Callable[[float], str]], str]


def trees_words(basis: Basis, units: Units) -> str:
    """Return what trees the answer rests on."""
    canopy, segments = basis.canopy, basis.segments
    if basis.shade is not None:
        return (
            "their shade, with that of hills, was given segment by segment; the interval takes it as certain."
        )
    beside = _one_by_one(basis)
    if not canopy.has_stands and beside:
        return beside
    if canopy.is_open and basis.maps:
        return "none along this drive on the map."
    if canopy.is_open:
        return "none: an open road was assumed. Real roads with trees give less."
    used = basis.trees or _untold(canopy)

    def told(one: Used, words: Callable[[float], str]) -> str:
        # Values are many and differ little: each is put into words once.
        said = {value: words(value) for value in np.unique(one.value[~np.isnan(one.value)]).tolist()}
        if len(said) == 1 == len(set(one.origin)) and not np.isnan(one.value).any():
            return _label(next(iter(said.values())), one.origin[0])
        pairs = [
            (said.get(value, ""), origin) for value, origin in zip(one.value.tolist(), one.origin, strict=True)
        ]
        label = {pair: _label(*pair) for pair in set(pairs)}
        labels = [label[pair] for pair in pairs]
        if len(set(labels)) > _MOST_LABELS:
            return _spanned(one, words, segments)
        return _by_stretch(labels, segments, units)

    parts = (
        f"cover beside the road {told(used.cover, percent)}",
        f"height {told(used.height_m, lambda m: height(m, units))}",
        f"road opening {told(used.opening_m, lambda m: height(m, units))}",
        _leaves(used, told),
    )
    known = (
        ""
        if canopy.placement is None or canopy.drawn
        else f" Rasters known for {percent(canopy.data_frac)} of the route."
    )
    return f"{'; '.join(parts)}.{known} {beside}".rstrip()


def _spanned(one: Used, words: Callable[[float], str], segments: Segments) -> str:
    """Return the span of many values by their origin, and the share of the way it holds for."""
    origin, length_m = np.array(one.origin), segments.length_m
    whole_m = max(float(length_m.sum()), 1e-9)
    told = []
    for name in dict.fromkeys(one.origin):
        here = origin == name
        values = one.value[here]
        known = values[~np.isnan(values)]
        span = (
            " to ".join(dict.fromkeys(words(float(end)) for end in (known.min(), known.max())))
            if known.size
            else ""
        )
        told.append(f"{_label(span, name)} on {percent(float(length_m[here].sum()) / whole_m)} of the way")
    return ", ".join(told)


def _one_by_one(basis: Basis) -> str:
    """Return how many trees and buildings are looked at each by itself; empty for none."""
    trees, buildings = basis.canopy.standing, basis.terrain.buildings
    counts = (
        "" if trees is None else f"{trees.count:,} single trees",
        "" if buildings is None else f"{buildings.count:,} outlines of buildings",
    )
    named = " and ".join(filter(None, counts))
    return f"{named} around the road are looked at one by one." if named else ""


def _label(value: str, origin: str) -> str:
    """Return "18 m (as given)"; where a raster tells the values, its name is all."""
    if not value:
        return origin or "as in the raster"
    return f"{value} ({origin})" if origin else value


def _leaves(used: TreesUsed, told: _Told) -> str:
    """Return which trees keep their leaves, how much leaf the others carry, and what crowns let through."""
    fixed = ~np.isnan(used.crown.value)
    if fixed.all():
        return f"crowns transmit {told(used.crown, percent)}"
    kinds = told(used.evergreen, _kind)
    leaves = f"{kinds}; {_leaf_state(used)}" if np.any(used.evergreen.value < 1) else kinds
    return f"{leaves}; some crowns transmit {percent(used.crown.value[fixed][0])}" if fixed.any() else leaves


def _kind(evergreen_frac: float) -> str:
    if evergreen_frac == 0:
        return "deciduous trees"
    return "evergreen trees" if evergreen_frac == 1 else f"{percent(evergreen_frac)} of the trees evergreen"


def _leaf_state(used: TreesUsed) -> str:
    low, high = used.leaf_frac
    by = f" ({used.season})" if used.season else ""
    if low >= _FULL_FRAC:
        return f"deciduous ones in leaf{by}"
    if high <= _BARE_FRAC:
        return f"deciduous ones bare{by}"
    span = percent(low) if percent(low) == percent(high) else f"{100 * low:.0f} to {percent(high)}"
    return f"deciduous ones with {span} of their leaves{by}"


def _by_stretch(labels: list[str], segments: Segments, units: Units) -> str:
    """Return the one label, or each label with its stretches of the road, in the order of the road."""
    spans: dict[str, list[str]] = {}
    row = 0
    for label, group in groupby(labels):
        first, row = row, row + len(list(group))
        spans.setdefault(label, []).append(_span(segments, first, row - 1, units))
    if len(spans) == 1:
        return labels[0]
    return ", ".join(f"{label} on {_listed(found)} {units.distance}" for label, found in spans.items())


def _span(segments: Segments, first: int, last: int, units: Units) -> str:
    start_m, end_m = segments.along_m[first], segments.along_m[last] + segments.length_m[last]
    per_m = units.distance_per_km / 1000
    return f"{readable(float(start_m) * per_m)}-{readable(float(end_m) * per_m)}"


def _listed(found: list[str]) -> str:
    more = f" and {len(found) - _MOST_SPANS} more stretches," if len(found) > _MOST_SPANS else ""
    return ", ".join(found[:_MOST_SPANS]) + more


def _untold(canopy: Canopy) -> TreesUsed:
    """Return what a canopy itself tells, of no told origin; its trees are in leaf or as its crowns say."""
    count = len(canopy.road_width_m)
    evergreen = np.array([trees.evergreen_frac for trees in canopy.trees])[canopy.kind]
    tall_m = np.where(np.isnan(canopy.uniform_height_m), canopy.default_height_m, canopy.uniform_height_m)
    names = ", ".join(printable(file.name) for file in canopy.files)
    crown = canopy.crown_transmittance_frac

    def of(value: FloatArray, origin: str = "") -> Used:
        return Used(value=np.broadcast_to(value, count), origin=(origin,) * count)

    return TreesUsed(
        cover=of(canopy.uniform_cover_frac, f"as in {names}" if canopy.placement is not None else ""),
        height_m=of(tall_m if canopy.height_m is None else canopy.uniform_height_m),
        opening_m=of(canopy.road_width_m),
        evergreen=of(evergreen),
        crown=of(np.full(count, np.nan) if crown is None else crown.mean(axis=0)),
        leaf_frac=(1.0, 1.0),
        season="",
    )
