"""What a search for a parking spot says, in sentences and cells."""

import math

from routesolar.decisions.breaks import Break, Breaks, Pausing
from routesolar.decisions.criterion import TRIFLE_FRAC, BestBy, is_alike, rank_of
from routesolar.decisions.departures import SURE_FRAC
from routesolar.decisions.park import Parking, Spot
from routesolar.physics.geodesy import wrap_longitude_deg
from routesolar.report.clock_words import LocalClock, clock, clock_after, day, weekday
from routesolar.report.decision_text import Words, chance, share
from routesolar.report.open_road import first_said
from routesolar.report.units import Units, distance, duration, energy, height, percent, readable
from routesolar.report.words_best import cells_of, outcome_words, short_words
from routesolar.trip.names import printable

JUDGE = (
    "Whether a spot is accessible, legal and safe (branches, water, traffic, soft ground) is for the "
    "driver to judge; this cannot tell."
)
_MOST_NAMED = 6
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
    outcome = result.here if staying and result.here is not None else best.outcome
    comes_to = outcome_words(result.best_by, outcome, _local(result).at(stay.end_utc_s))
    answer = (
        f"{action}: {comes_to} from {_local(result).between(stay.start_utc_s, stay.end_utc_s)} "
        f"under {result.sky} sky."
    )
    remarks = (
        short_words(result.best_by, outcome, None, (), _local(result).case),
        _here(result, best),
        _shade(result, best),
        _choice(result),
        JUDGE,
    )
    return Words(
        answer=answer,
        remarks=tuple(remark for remark in remarks if remark),
        header=(
            *("rank", "latitude", "longitude", f"{units.height} away", "face", "Wh", "shade from", "to"),
            *("battery after", "Wh that get in", "Wh missed"),
        ),
        cells=tuple(_cells(result, spot, units) for spot in result.spots),
        chart_words=(
            f"Places within {height(max(spot.distance_m for spot in result.spots), units)} of {stay.name}, by "
            "energy over the stay."
        ),
    )


def stay_words(result: Parking) -> str:
    """Return the day and the hours of a stay."""
    stay = result.stay
    start, end, zone = stay.start_utc_s, stay.end_utc_s, stay.time_zone
    return (
        f"{weekday(start, zone)} {day(start, zone)}, parked {clock(start, zone)} to "
        f"{clock_after(start, end, zone)} ({zone})"
    )


def taken_by(result: Parking) -> str:
    """Return what stands on places that are left out; empty where none is."""
    if not len(result.occupied_latitude_deg):
        return ""
    return "taken, or not known" if result.knows_buildings else "trees, or not known"


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
    best = min((spot.outcome for spot in result.spots), key=lambda one: rank_of(result.best_by, one))
    return result.here is not None and is_alike(result.best_by, best, result.here)


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
        share(spot.outcome.soc_end_frac),
        *cells_of(spot.outcome),
    )


def _here(result: Parking, best: Spot) -> str:
    """Return what the stop itself brings as the vehicle arrives."""
    if result.here_wh is None:
        return (
            f"{result.stay.name} itself is under trees{' or in a building' if result.knows_buildings else ''}."
        )
    if _as_good_here(result):
        most_wh = max(spot.energy_wh for spot in result.spots)
        better = "gives" if result.best_by is BestBy.ENERGY else "is better by"
        return f"No free spot {better} {percent(TRIFLE_FRAC)} more: the most sun is {energy(most_wh)}."
    sentence = f"Parked as it arrives, the vehicle gets {energy(result.here_wh)}"
    return f"{sentence}; in the open it would get {energy(result.open_wh)} at best."


def _shade(result: Parking, best: Spot) -> str:
    """Return when the best spot lies in the shade."""
    start_utc_s = result.stay.start_utc_s
    if not result.by_tree:
        if any(drive.around.canopy.drawn for drive in result.drives):
            beside = " Houses and single trees stand one by one." if result.knows_buildings else ""
            return f"Woods on the map go by their cover: how much they take is known, not when.{beside}"
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
    """Return what the search for breaks says; a row a way to pause, the best first."""
    best = result.best
    where = "; ".join(_break_words(result, one, units) for one in best.breaks)
    end = _clock_of(result).at(best.outcome.end_utc_s)
    low = (
        ""
        if result.energy_low_wh is None
        else f", nine {_case(result)}s in ten at least {energy(result.energy_low_wh)},"
    )
    comes_to = outcome_words(result.best_by, best.outcome, end, low)
    during = "the break" if len(best.breaks) == 1 else "the breaks"
    answer = (
        f"{_makes_a_difference(result)}{where}: {comes_to} on the whole drive under {result.sky} sky, "
        f"{energy(best.break_wh)} of it in {during}."
    )
    remarks = (
        short_words(result.best_by, best.outcome, result.lasts_prob, result.loads_last, _case(result)),
        _gain(result, units),
        _alike(result, units),
        "Whether one may stop there is for the driver to judge.",
    )
    several = len(best.breaks) > 1
    return Words(
        answer=first_said(answer, result.drives),
        remarks=tuple(remark for remark in remarks if remark),
        header=(
            *("places" if several else "place", "from", "to", "face", "Wh of the drive", "Wh in breaks"),
            *("battery after", "Wh that get in", "Wh missed"),
        ),
        cells=tuple(
            (
                ", ".join(_place_of(one, units) for one in pausing.breaks),
                ", ".join(_clock_of(result).at(one.start_utc_s) for one in pausing.breaks),
                ", ".join(_clock_of(result).at(one.end_utc_s) for one in pausing.breaks),
                ", ".join(_face(one) for one in pausing.breaks),
                readable(pausing.energy_wh),
                readable(pausing.break_wh),
                share(pausing.outcome.soc_end_frac),
                *cells_of(pausing.outcome),
            )
            for pausing in result.ranked
        ),
        chart_words="Energy of the whole drive by the place of the break.",
    )


def _clock_of(result: Breaks) -> LocalClock:
    return LocalClock(result.best.breaks[0].start_utc_s, result.best.breaks[-1].end_utc_s, result.time_zone)


def _case(result: Breaks) -> str:
    best = result.best
    return LocalClock(best.breaks[0].start_utc_s, best.outcome.end_utc_s, result.time_zone).case


def _break_words(result: Breaks, one: Break, units: Units) -> str:
    lasting = duration(one.end_utc_s - one.start_utc_s)
    clock = _clock_of(result).between(one.start_utc_s, one.end_utc_s)
    facing = "" if one.heading_deg is None else f", nose to {one.heading_deg:.0f}° ({compass(one.heading_deg)})"
    return f"{_place_of(one, units)} for {lasting}, {clock}{facing}"


def _face(one: Break) -> str:
    return "any" if one.heading_deg is None else f"{one.heading_deg:.0f}°"


def _sure(result: Breaks) -> bool:
    """Tell whether the best is better than a break near noon by more than a trifle and the clouds' doubt."""
    if result.noon is result.best or is_alike(result.best_by, result.best.outcome, result.noon.outcome):
        return False
    beats = result.beats_noon_prob
    return result.best_by is BestBy.LASTING or beats is None or beats >= SURE_FRAC


def _makes_a_difference(result: Breaks) -> str:
    """Return how the answer begins: with the break to make, or that others are as good."""
    if len(result.ranked) > 1 and len(result.alike) == len(result.ranked):
        return "It makes no difference where you pause: at "
    if result.noon is not result.best and not _sure(result):
        return "Near noon is as good as anywhere; the best by a trifle is to pause at "
    return "Pause at "


def _gain(result: Breaks, units: Units) -> str:
    """Return the gain over the usual noon and over the worst."""
    best, noon, worst = result.best, result.noon, result.ranked[-1]
    if len(result.ranked) == 1:
        return ""
    worse = f"{_less(result, worst)} than at the worst, {_places_of(worst, units)}"
    if noon is best:
        return f"That is {worse}; it is the break nearest to noon as well."
    beats, start = result.beats_noon_prob, _clock_of(result).at(noon.breaks[0].start_utc_s)
    told = beats is not None and result.best_by is not BestBy.LASTING
    often = f", on {chance(beats or 0.0)} of such {_case(result)}s" if told else ""
    near = f"nearest to noon, at {_places_of(noon, units)} from {start}{often}"
    return f"That is {_less(result, noon)} than pausing {near}; and {worse}."


def _less(result: Breaks, other: Pausing) -> str:
    """Return by how much the best is better than another."""
    best, worse = result.best.outcome, other.outcome
    if result.best_by is BestBy.CHARGE:
        return f"{100 * ((best.soc_end_frac or 0.0) - (worse.soc_end_frac or 0.0)):.1f} points of charge more"
    if result.best_by is BestBy.LASTING and worse.is_short:
        return f"{energy((worse.shortfall_wh or 0.0) - (best.shortfall_wh or 0.0))} less missed"
    if result.best_by is BestBy.LASTING:
        kept = 100 * ((best.lowest_soc_frac or 0.0) - (worse.lowest_soc_frac or 0.0))
        return f"{kept:.1f} points more at the lowest charge"
    return f"{energy(best.taken_wh - worse.taken_wh)} more"


def _place_of(one: Break, units: Units) -> str:
    way = distance(one.along_m / 1000, units)
    return f"{printable(one.name)} ({way})" if one.name else way


def _places_of(pausing: Pausing, units: Units) -> str:
    return " and ".join(_place_of(one, units) for one in pausing.breaks)


def _alike(result: Breaks, units: Units) -> str:
    """Return which breaks are as good as the best."""
    others = [_places_of(one, units) for one in result.alike if one is not result.best]
    if not others or len(others) == len(result.ranked) - 1:
        return ""
    more = f" and {len(others) - _MOST_NAMED} more" if len(others) > _MOST_NAMED else ""
    return f"Within {percent(TRIFLE_FRAC)} of it, so as good: {'; '.join(others[:_MOST_NAMED])}{more}."
