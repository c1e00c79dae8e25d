"""The road under a drive as a map knows it, in a sentence."""

from collections.abc import Iterable

from routesolar.report.units import Units, distance
from routesolar.trip.mapped_road import MappedRoad
from routesolar.trip.names import printable
from routesolar.trip.segments import Segments
from routesolar.trip.stretches_used import UsedStretch, used_along

_MOST_KINDS = 6


def road_words(segments: Segments, road: MappedRoad | None, attribution: str, units: Units) -> str:
    """Return kinds of road with lengths, tunnels, bridges, and what follows no road; empty without a map."""
    if road is None:
        return ""
    stretches = used_along(segments, road, None)
    if not stretches:
        return ""
    kinds: dict[str, float] = {}
    for stretch in stretches:
        if stretch.road:
            kinds[stretch.road] = kinds.get(stretch.road, 0.0) + _km(stretch)
    listed = sorted(kinds.items(), key=lambda pair: -pair[1])
    told = [f"{printable(kind)} {distance(km, units)}" for kind, km in listed[:_MOST_KINDS]]
    if len(listed) > _MOST_KINDS:
        told.append(f"others {distance(sum(km for _, km in listed[_MOST_KINDS:]), units)}")
    parts = [", ".join(told)] if told else []
    for words, km in (
        ("without light in tunnels, under roofs and on ferries", _sum(s for s in stretches if s.roofed)),
        ("on bridges", _sum(s for s in stretches if s.bridge)),
        ("on no road of the map", _sum(s for s in stretches if not s.road)),
    ):
        if km > 0:
            parts.append(f"{distance(km, units)} {words}")
    credit = f" {printable(attribution)}." if attribution else ""
    return f"{'; '.join(parts)}.{credit}"


def _sum(stretches: Iterable[UsedStretch]) -> float:
    return sum(map(_km, stretches))


def _km(stretch: UsedStretch) -> float:
    return stretch.to_km - stretch.from_km
