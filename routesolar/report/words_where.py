"""What a search for a parking spot says, in sentences and cells."""

import math

from routesolar.decisions.breaks import TRIFLE_FRAC, Break, Breaks
from routesolar.decisions.park import EQUAL_FRAC, Parking, Spot
from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.report.clock_words import LocalClock
from routesolar.report.decision_text import Words
from routesolar.report.open_road import first_said
from routesolar.report.units import Units, distance, duration, energy, height, percent, readable
from routesolar.trip.names import printable

JUDGE = (
    "Whether a spot is accessible, legal and safe (branches, water, traffic, soft ground) is for the "
    "driver to judge; this cannot tell."
)
_POINTS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split()


def park_words(result: Parking, units: Units) -> Words:
    """Return what the search says; a row a spot, the best first."""
    best, stay = result.spots[0], result.stay
    staying = _as_good_here(result)
    action = (
        f"Stay where you are, at {stay.name}"
        if staying
        else f"Park {_where(result, best, units)}{_facing(best)}"
    )
    expected_wh = result.here_wh if staying and result.here_wh is not None else best.energy_wh
    answer = (
        f"{action}: expect {energy(expected_wh)} from "
        f"{_local(result).between(stay.start_utc_s, stay.end_utc_s)} under {result.sky} sky."
    )
    remarks = (_here(result, best), _shade(result, best), _choice(result), JUDGE)
    return Words(
        answer=answer,
        remarks=tuple(remark for remark in remarks if remark),
        header=("rank", "latitude", "longitude", f"{units.height} away", "face", "Wh", "shade from", "to"),
        cells=tuple(_cells(result, spot, units) for spot in result.spots),
        chart_words=(
            f"Places within {height(max(spot.distance_m for spot in result.spots), units)} of {stay.name}, by "
            "energy over the stay."
        ),
    )


def taken_by(result: Parking) -> str:
    """Return what stands on places that are left out; empty where none is."""
    if not len(result.occupied_latitude_deg):
        return ""
    return "trees, buildings, or not known" if result.knows_buildings else "trees, or not known"


def compass(heading_deg: float) -> str:
    """Return the nearest of sixteen compass points."""
    return _POINTS[round(heading_deg % 360 / 22.5) % 16]


def bearing_deg(result: Parking, spot: Spot) -> float:
    """Return the direction from the stop to a spot, clockwise from north."""
    stay = result.stay
    east = float(wrap_longitude_deg(spot.longitude_deg - stay.longitude_deg))
    north = spot.latitude_deg - stay.latitude_deg
    return math.degrees(math.atan2(east * math.cos(math.radians(stay.latitude_deg)), north)) % 360


def _as_good_here(result: Parking) -> bool:
    """Tell whether staying as the vehicle arrives is as good as any free spot."""
    most_wh = max(spot.energy_wh for spot in result.spots)
    return result.here_wh is not None and result.here_wh >= (1 - EQUAL_FRAC) * most_wh


def _local(result: Parking) -> LocalClock:
    return LocalClock(result.stay.start_utc_s, result.stay.end_utc_s, result.stay.time_zone)


def _where(result: Parking, spot: Spot, units: Units) -> str:
    if spot.distance_m < 1:
        return f"at {result.stay.name} itself"
    return f"{height(spot.distance_m, units)} {compass(bearing_deg(result, spot))} of {result.stay.name}"


def _facing(spot: Spot) -> str:
    if spot.heading_deg is None:
        return ""
    return f", nose to {spot.heading_deg:.0f}° ({compass(spot.heading_deg)})"


def _cells(result: Parking, spot: Spot, units: Units) -> tuple[str, ...]:
    times = (spot.first_shade_utc_s, spot.last_shade_utc_s)
    return (
        str(spot.rank),
        f"{spot.latitude_deg:.5f}",
        f"{spot.longitude_deg:.5f}",
        readable(spot.distance_m * units.height_per_m),
        "any" if spot.heading_deg is None else f"{spot.heading_deg:.0f}°",
        readable(spot.energy_wh),
        *("-" if utc_s is None else _local(result).at(utc_s) for utc_s in times),
    )


def _here(result: Parking, best: Spot) -> str:
    """Return what the stop itself brings as the vehicle arrives."""
    if result.here_wh is None:
        return (
            f"{result.stay.name} itself is under trees{' or in a building' if result.knows_buildings else ''}."
        )
    if _as_good_here(result):
        most_wh = max(spot.energy_wh for spot in result.spots)
        return f"No free spot gives {percent(EQUAL_FRAC)} more: the most is {energy(most_wh)}."
    sentence = f"Parked as it arrives, the vehicle gets {energy(result.here_wh)}"
    return f"{sentence}; in the open it would get {energy(result.open_wh)} at best."


def _shade(result: Parking, best: Spot) -> str:
    """Return when the best spot lies in the shade."""
    start_utc_s = result.stay.start_utc_s
    if not result.by_tree:
        return "Trees go by their cover there: how much they take is known, not when."
    if best.first_shade_utc_s is None or best.last_shade_utc_s is None:
        standing = "tree, building" if result.knows_buildings else "tree"
        return f"No {standing} or hill hides the sun there during the stay."
    if best.first_shade_utc_s <= start_utc_s + 60 and best.last_shade_utc_s >= result.stay.end_utc_s - 60:
        return "It is in shade at least at the beginning and the end of the stay."
    first, last = best.first_shade_utc_s, best.last_shade_utc_s
    return (
        f"Shade falls on it between {_local(result).at(first)} and {_local(result).at(last)}, within "
        f"{duration(last - first)}."
    )


def _choice(result: Parking) -> str:
    """Return how many spots are nearly as good."""
    best_wh = max(spot.energy_wh for spot in result.spots)
    good = sum(spot.energy_wh >= 0.95 * best_wh for spot in result.spots)
    if good == 1:
        return ""
    return f"{good} of {len(result.spots)} free spots come within {percent(0.05)} of that."


def breaks_words(result: Breaks, units: Units) -> Words:
    """Return what the search for a break says; a row a break, the best first."""
    best, worst = result.best, result.ranked[-1]
    lasting = duration(best.end_utc_s - best.start_utc_s)
    facing = (
        "" if best.heading_deg is None else f", nose to {best.heading_deg:.0f}° ({compass(best.heading_deg)})"
    )
    clock = LocalClock(best.start_utc_s, best.end_utc_s, result.time_zone)
    answer = (
        f"Pause at {_place_of(best, units)} for {lasting}, {clock.between(best.start_utc_s, best.end_utc_s)}"
        f"{facing}: expect {energy(best.energy_wh)} on the whole drive under {result.sky} sky, "
        f"{energy(best.break_wh)} of it in the break."
    )
    remarks = (
        f"That is {energy(best.energy_wh - result.noon.energy_wh)} more than pausing nearest to noon, at "
        f"{_place_of(result.noon, units)} from {clock.at(result.noon.start_utc_s)}, and "
        f"{energy(best.energy_wh - worst.energy_wh)} more than at the worst, {_place_of(worst, units)}."
        if result.noon is not best
        else f"That is {energy(best.energy_wh - worst.energy_wh)} more than at the worst, "
        f"{_place_of(worst, units)}; it is the break nearest to noon as well.",
        _alike(result, units),
        "Counted before a full or cold battery turns any away. Whether one may stop there is for the driver to "
        "judge.",
    )
    return Words(
        answer=first_said(answer, result.drives),
        remarks=tuple(remark for remark in remarks if remark),
        header=("place", "from", "to", "Wh of the drive", "Wh in the break"),
        cells=tuple(
            (
                _place_of(one, units),
                clock.at(one.start_utc_s),
                clock.at(one.end_utc_s),
                readable(one.energy_wh),
                readable(one.break_wh),
            )
            for one in result.ranked
        ),
        chart_words="Energy of the whole drive by the place of the break.",
    )


def _place_of(one: Break, units: Units) -> str:
    way = distance(one.along_m / 1000, units)
    return f"{printable(one.name)} ({way})" if one.name else way


def _alike(result: Breaks, units: Units) -> str:
    """Return which breaks are as good as the best."""
    others = [_place_of(one, units) for one in result.alike if one is not result.best]
    if not others:
        return ""
    return f"Within {percent(TRIFLE_FRAC)} of it, so as good: {', '.join(others)}."
