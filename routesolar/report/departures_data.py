"""What the page of departures needs to know: every departure's watts, in bytes, along one line of pieces."""

from base64 import b64encode
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from routesolar.decisions.departures import Departure, Departures
from routesolar.report.clock_words import clock, clock_after
from routesolar.report.colours import POWER, Classes, classes
from routesolar.report.line_data import breaks, legs, line, names
from routesolar.report.outlines_drawn import outline_data
from routesolar.report.packing import TENTHS, layer, spans, steps, utc_offsets
from routesolar.report.pieces import Pieces, piece_seconds, piece_watts, pieces_of
from routesolar.report.plane import ground_bounds
from routesolar.report.sun_times import dark_at
from routesolar.report.units import Units, energy, percent
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.ground import Ground
from routesolar.trip.segments import Segments

MOST_PIECES, FEWEST_PIECES = 5_000, 1_000
MOST_WATTS = 480_000  # pieces times departures, a byte each
LEVELS = 36  # of watts in a class: seven classes fill a byte


class Swept(NamedTuple):
    """Departures in the order they leave, in pieces: mean watts (d, k), their classes, the best of them."""

    segments: Segments
    pieces: Pieces
    power_w: NDArray[np.float32]
    scale: Classes
    best: int


def swept_of(watts: DepartureWatts, result: Departures) -> Swept:
    """Return the departures in so few pieces that a page can carry them.

    Raises:
        ValueError: the watts are of other departures than the result.
    """
    departures = watts.segments.departure_utc_s
    ranked = sorted(row.depart_utc_s for row in result.ranked)
    if not np.array_equal(departures, ranked):
        raise ValueError("the watts must be of the ranked departures, in the order they leave")
    most = min(MOST_PIECES, max(FEWEST_PIECES, MOST_WATTS // len(departures)))
    pieces = pieces_of(watts.segments, most)
    power_w = piece_watts(watts, pieces)
    return Swept(
        segments=watts.segments,
        pieces=pieces,
        power_w=power_w,
        scale=classes(float(power_w.max(initial=0)), POWER),
        best=ranked.index(result.best.depart_utc_s),
    )


def swept_data(swept: Swept, result: Departures, ground: Ground, units: Units) -> dict[str, Any]:
    """Return the departures as plain values; `order` has the departure of each row of the table."""
    segments = swept.segments
    first_utc_s = float(segments.departure_utc_s[0])
    by_time = sorted(result.ranked, key=lambda row: row.depart_utc_s)
    place = {row.depart_utc_s: index for index, row in enumerate(by_time)}
    return {
        "departs_utc_s": round(first_utc_s, 3),
        "utc_offsets_min": utc_offsets(first_utc_s, float(segments.arrival_utc_s.max()), segments.time_zone),
        "dark": spans(dark_at(segments, first_utc_s, float(segments.arrival_utc_s.max())), first_utc_s),
        "distance": units.distance,
        "distance_per_km": units.distance_per_km,
        "line": line(segments, swept.pieces),
        "breaks": breaks(segments, swept.pieces),
        "legs": legs(segments, swept.pieces),
        "names": names(segments),
        "layers": {"power": layer(swept.scale, "W")},
        "ground": ground_bounds(ground, segments),
        "outlines": outline_data(ground.outlines),
        "spans": _spans(segments, swept.pieces),
        "watts": _watts(swept.power_w, swept.scale),
        "departures": _departures(by_time, result),
        "best": swept.best,
        "order": [place[row.depart_utc_s] for row in result.ranked],
    }


def _spans(segments: Segments, pieces: Pieces) -> dict[str, Any]:
    """Return when departures leave, and how long their pieces take.

    A leg's pieces keep their shares of its time in every departure, so the times of one drive, in which each
    leg is as long as it ever is (`end_s`), and the legs' own lengths (`leg_s`) tell all.
    """
    seconds = piece_seconds(segments, pieces)
    leg = segments.leg[pieces.first]
    starts = np.flatnonzero(np.diff(leg, prepend=-1))
    leg_s = np.add.reduceat(seconds, starts, axis=1)
    longest_s = seconds[leg_s.argmax(axis=0)[leg], np.arange(pieces.count)]
    departs_s = segments.departure_utc_s - segments.departure_utc_s[0]
    varying = np.flatnonzero(np.ptp(leg_s, axis=0) > 1 / TENTHS)
    return {
        "departs_s": steps(departs_s, TENTHS),
        "end_s": steps(np.cumsum(longest_s), TENTHS),
        "leg_s": {int(number): steps(leg_s[:, number], TENTHS) for number in varying},
    }


def _watts(power_w: NDArray[np.float32], scale: Classes) -> dict[str, Any]:
    """Return watts as bytes: 0 is exactly nothing, b > 0 from b - 1 up to b quanta, classes kept exactly."""
    quantum_w = scale.step / LEVELS
    level = np.floor(power_w / quantum_w + LEVELS * 1e-9).astype(np.int64)
    data = np.where(power_w > 0, np.clip(level + 1, 1, 255), 0).astype(np.uint8)
    return {"quantum_w": quantum_w, "bytes": b64encode(data.tobytes()).decode()}


def _departures(by_time: list[Departure], result: Departures) -> list[dict[str, Any]]:
    """Return what is told of each departure: figures for the bars, words for the reader."""
    alike = {row.depart_utc_s for row in result.alike} if len(by_time) > 1 else set()
    rank = {row.depart_utc_s: number for number, row in enumerate(result.ranked, 1)}
    return [
        {
            "alike": row.depart_utc_s in alike,
            "rank": rank[row.depart_utc_s],
            **_figures(row),
            **_words(row, result.time_zone),
        }
        for row in by_time
    ]


def _figures(row: Departure) -> dict[str, float]:
    energies = {"energy_wh": row.energy_wh, "driving_wh": row.driving_wh}
    energies |= {"low_wh": row.energy_low_wh, "high_wh": row.energy_high_wh}
    return {name: round(value, 1) for name, value in energies.items()}


def _words(row: Departure, zone: str) -> dict[str, str | None]:
    return {
        "leave": clock(row.depart_utc_s, zone),
        "arrive": clock_after(row.depart_utc_s, row.arrive_utc_s, zone),
        "energy": energy(row.energy_wh),
        "least": energy(row.energy_low_wh),
        "shade": "–" if row.shade_loss_frac is None else percent(row.shade_loss_frac),
        "charge": None if row.soc_end_frac is None else percent(row.soc_end_frac),
    }
