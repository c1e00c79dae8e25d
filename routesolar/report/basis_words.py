"""One line that says what an answer rests on, so that a picture or a sheet sent on still tells it."""

from routesolar.physics.clouds import SCENARIOS
from routesolar.report.clock_words import clock, day, weekday
from routesolar.trip.basis import Basis
from routesolar.trip.names import printable
from routesolar.trip.rig import Rig
from routesolar.trip.segments import Segments

_SURE = {
    "known": "taken as known",
    "today": "as sure as a forecast for today",
    "tomorrow": "as sure as a forecast for tomorrow",
    "week": "as sure as a forecast for a week ahead",
    "climate": "as usual there in that season",
}


def rests_on(basis: Basis, software: str, when: str = "") -> str:
    """Return date, departure, panel, sky and how sure, trees and hills known or not, and the program.

    What is not known of trees and hills comes first. `when` stands for the date and the departure.
    """
    parts = (
        when or departure_words(basis.segments),
        rig_words(basis.rig),
        f"{sky_words(basis)}, {sure_words(basis)}",
        printable(software),
    )
    known = surroundings_words(basis)
    if is_unknown(basis):
        return f"{known} {'; '.join(parts)}."
    return f"{'; '.join((*parts[:3], known, parts[3]))}."


def route_rests_on(segments: Segments, software: str) -> str:
    """Return the same of a route that was only read: date, departure and pace, and that no sun was computed."""
    parts = (departure_words(segments), printable(segments.pace), "no sun computed", printable(software))
    return f"{'; '.join(filter(None, parts))}."


def departure_words(segments: Segments) -> str:
    """Return the day, and the time of leaving or between which times."""
    first, last = float(segments.departure_utc_s.min()), float(segments.departure_utc_s.max())
    zone = segments.time_zone
    dated = f"{weekday(first, zone)} {day(first, zone)}"
    if first == last:
        return f"{dated}, leaving {clock(first, zone)} ({zone})"
    if day(first, zone) == day(last, zone):
        return f"{dated}, leaving {clock(first, zone)} to {clock(last, zone)} ({zone})"
    return f"{dated} to {day(last, zone)} ({zone})"


def rig_words(rig: Rig) -> str:
    """Return the panels' watts and how they lie."""
    flat = all(panel.tilt_deg == 0 for panel in rig.panels)
    if len(rig.panels) == 1:
        words = f"{rig.rated_w:g} W panel"
    else:
        words = f"{len(rig.panels)} panels, {rig.rated_w:g} W in total"
    name = "" if rig.name == "vehicle" else f"{printable(rig.name)}: "
    return f"{name}{words}, {'flat' if flat else 'tilted'}"


def sky_words(basis: Basis) -> str:
    """Return the sky."""
    name = printable(basis.sky.name)
    if basis.sky.index is not None:
        return f"sky {name}"
    seen = f" ({SCENARIOS[basis.sky.name].seen})" if basis.sky.name in SCENARIOS else ""
    return f"{name} sky{seen}"


def sure_words(basis: Basis) -> str:
    """Return how sure the sky is."""
    return "given segment by segment" if basis.sky.index is not None else _SURE[basis.sky.forecast]


def is_unknown(basis: Basis) -> bool:
    """Return whether nothing is known of what shades the road."""
    known = basis.shade is not None or basis.terrain.buildings is not None or bool(basis.maps)
    return not known and basis.canopy.is_open


def surroundings_words(basis: Basis) -> str:
    """Return what is known of trees and hills."""
    hills = "hills not known" if basis.terrain.is_flat else "hills known"
    if basis.terrain.buildings is not None:
        hills = f"buildings known, {hills}"
    if basis.shade is not None:
        return "shade of trees and hills given"
    if is_unknown(basis):
        if basis.terrain.is_flat:
            return "Trees and hills along the road are not known here and were left out."
        return "Trees along the road are not known here and were left out; hills are known."
    if basis.canopy.is_open:
        names = ", ".join(printable(file.name) for file in basis.maps)
        return f"no trees on {names}, {hills}" if names else f"trees not known, {hills}"
    return f"trees {_trees_from(basis)}, {hills}"


def _trees_from(basis: Basis) -> str:
    """Return the files that tell of trees, a map only where it does, and whether somebody said more."""
    canopy, used = basis.canopy, basis.trees
    on_map = basis.maps if canopy.drawn or canopy.standing is not None else ()
    names = ", ".join(printable(file.name) for file in (*canopy.files, *on_map))
    if not names:
        return "as stated"
    said = used is not None and (used.cover.is_said or used.height_m.is_said)
    return f"from {names}{' and as stated' if said else ''}"
