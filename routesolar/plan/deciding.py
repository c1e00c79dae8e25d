"""The page's further questions about a trip: when to leave, which road, how large, where to park."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from routesolar.decisions.compare import Comparison
from routesolar.decisions.departures import Departures
from routesolar.decisions.park import Parking
from routesolar.decisions.size import PanelSize, Sizing
from routesolar.files import values
from routesolar.files.reading import printable
from routesolar.files.sizes import capacities_of, charges_of, ratings_of
from routesolar.files.stated import Stated
from routesolar.report.clock_words import clock
from routesolar.timetable.stops import END
from routesolar.trips.comparing import compare
from routesolar.trips.deciding import rank_departures, size
from routesolar.trips.parking import park
from routesolar.trips.presenting import Decision, decision_words
from routesolar.trips.reporting import units_named
from routesolar.trips.trip import Trip

EVERY = "30min"  # between the departures tried
RATED, WITHIN = "50,100,200,400", "300m"
MOST_ROWS, MOST_SPOTS = 200, 12

# Of the other road its own line, stops and trees hold; this is as it is said of the first.
_SHARED = ("depart", "rig", "sky", "weather", "skies", "sky_spans", "forecast", "air_c", "wind_mps", "units")
# What a bare track does not tell of itself is as on the first road.
_ALONG = (
    *("speed_mps", "map", "canopy", "canopy_cover_frac", "canopy_height", "road_width", "drive_side"),
    *("season", "trees", "crown_transmittance_frac", "leaf_type", "terrain", "surface"),
)


def beside(trip: Trip, other: Stated) -> Trip:
    """Return the trip along another road with the first one's rig and departure under its sky.

    Raises:
        RoutesolarError: what is said of the other road makes no trip.
    """
    mine = trip.stated()
    is_bare = other == Stated(route=other.route)
    changes = {name: getattr(mine, name) for name in (*_SHARED, *(_ALONG if is_bare else ()))}
    if not is_bare and other.speed_mps is None and not other.paces:
        changes["speed_mps"] = mine.speed_mps
    return Trip.of(replace(other, **changes))


def _departures(trip: Trip, asked: Mapping[str, Any], other: Stated | None) -> Departures:
    return rank_departures(trip, every=EVERY)


def _roads(trip: Trip, asked: Mapping[str, Any], other: Stated | None) -> Comparison:
    return compare([trip] if other is None else [trip, beside(trip, other)])


def _sizes(trip: Trip, asked: Mapping[str, Any], other: Stated | None) -> Sizing:
    rated, capacity, charge = (str(asked.get(name) or "").strip() for name in ("rated", "capacity", "charge"))
    return size(
        trip,
        ratings_of(rated or RATED),
        capacity_wh=capacities_of(capacity) if capacity else (),
        charge_w=charges_of(charge) if charge else (),
    )


def _parking(trip: Trip, asked: Mapping[str, Any], other: Stated | None) -> Parking:
    at, stay, within = (str(asked.get(name) or "").strip() for name in ("at", "stay", "within"))
    place = at or END
    return park(
        trip,
        values.length_m(place, "at") if values.is_quantity(place, "length") else place,
        stay=values.duration_s(stay, "for") if stay else None,
        within=within or WITHIN,
    )


QUESTIONS: Mapping[str, Callable[[Trip, Mapping[str, Any], Stated | None], Decision]] = {
    "departures": _departures,
    "compare": _roads,
    "size": _sizes,
    "park": _parking,
}


def told_decision(result: Decision, trip: Trip) -> dict[str, Any]:
    """Return a decision as the page shows it: its words, its table, and a bar for every row."""
    words = decision_words(result, units_named(trip.units))
    return {
        "answer": printable(words.answer, 1000),
        "remarks": [printable(remark, 1000) for remark in words.remarks],
        "header": [printable(name, 60) for name in words.header],
        "cells": [[printable(cell, 200) for cell in row] for row in words.cells[:MOST_ROWS]],
        "bars": list(_bars(result))[:MOST_ROWS],
        "warnings": [printable(warning, 1000) for warning in getattr(result, "warnings", ())],
    }


def _bars(result: Decision) -> Iterator[dict[str, Any]]:
    """Yield what each row is called, its energy as the command has it, and the note beside it."""
    if isinstance(result, Departures):
        alike = {row.depart_utc_s for row in result.alike}
        for row in sorted(result.ranked, key=lambda row: row.depart_utc_s):
            note = "best" if row is result.best else "alike" if row.depart_utc_s in alike else ""
            yield _bar(clock(row.depart_utc_s, result.time_zone), row.energy_wh, row.energy_low_wh, note)
    elif isinstance(result, Comparison):
        for number, road in enumerate(result.routes):
            note = "best" if number == result.best else ""
            yield _bar(printable(road.name, 80), road.energy_wh, road.energy_low_wh, note)
    elif isinstance(result, Sizing):
        by_panel = len({(one.capacity_wh, one.charge_w) for one in result.sizes}) == 1
        for one in result.sizes:
            yield _bar(
                f"{one.rated_w:g} W" if by_panel else _size_words(one),
                one.energy_wh,
                None,
                "best" if one is result.best else "",
            )
    elif isinstance(result, Parking):
        for spot in result.spots[:MOST_SPOTS]:
            label = f"spot {spot.rank}, {spot.distance_m:.0f} m away"
            place = {"rank": spot.rank, "place": [spot.latitude_deg, spot.longitude_deg]}
            yield _bar(label, spot.energy_wh, None, "" if spot.rank > 1 else "best") | place


def _bar(label: str, energy_wh: float, low_wh: float | None, note: str) -> dict[str, Any]:
    return {"label": label, "energy_wh": energy_wh, "low_wh": low_wh, "note": note}


def _size_words(one: PanelSize) -> str:
    parts = [f"{one.rated_w:g} W"]
    parts += [] if one.capacity_wh is None else [f"{one.capacity_wh:g} Wh"]
    parts += [f"engine {one.charge_w:g} W"] if one.charge_w else []
    return ", ".join(parts)
