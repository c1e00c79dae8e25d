"""page.html of a comparison: the routes on one map and on one chart of what they have gathered."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np
from markupsafe import Markup

from routesolar.decisions.compare import Comparison
from routesolar.report.compare_data import DrawnRoute, compared_data, drawn_routes, watt_classes
from routesolar.report.label_room import room_beside
from routesolar.report.live_page import live_values
from routesolar.report.map_parts import (
    WIDTH,
    Frame,
    frame_around,
    furniture_boxes,
    number_svg,
    path,
    sheet_svg,
    signs_svg,
)
from routesolar.report.map_signs import Signs, Surface, signs_in, towns_in
from routesolar.report.outlines_drawn import credits_of, outline_data
from routesolar.report.page_parts import key_rows, page_templates
from routesolar.report.plane import Lines, ground_bounds
from routesolar.report.still_map import MARGIN
from routesolar.report.units import METRIC, Units
from routesolar.trip.arrays import FloatArray
from routesolar.trip.decision_report import DecisionReport
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.ground import Ground
from routesolar.trip.names import printable

STYLES = 6  # of lines: the style sheet draws as many


def compare_html(
    report: DecisionReport,
    result: Comparison,
    drives: Sequence[DepartureWatts],
    ground: Ground,
    units: Units = METRIC,
) -> str:
    """Return the page, the same text for the same report. It asks the network for nothing.

    `drives` holds the watts of the compared routes in their order, of one departure each.

    Raises:
        ValueError: the drives are not the routes of the result.
    """
    drawn = drawn_routes(result, drives)
    data = compared_data(result, drawn, units) | {
        "ground": ground_bounds(ground, drawn[0].segments),
        "outlines": outline_data(ground.outlines),
    }
    return (
        page_templates()
        .get_template("compare.html")
        .render(
            live_values(report, drawn[0].segments, data, "compare.js")
            | {
                "still_map": Markup(routes_svg(drawn, ground, units)),
                "key_rows": key_rows(watt_classes(drawn)),
                "ground": ground,
                "has_stops": any(one.segments.stopped.any() for one in drawn),
                "credits": credits_of(ground),
                "routes": [
                    {
                        "letter": one.letter,
                        "name": printable(one.route.name) or "unnamed",
                        "style": _style(number),
                    }
                    for number, one in enumerate(drawn)
                ],
            }
        )
    )


def routes_svg(drawn: Sequence[DrawnRoute], ground: Ground, units: Units) -> str:
    """Return the still map of all routes, each in a line of its own kind, as an SVG element."""
    frame = frame_around(Lines(ends=np.concatenate([one.ends for one in drawn])).bounds(MARGIN))
    names = ", ".join(one.letter for one in drawn)
    parts = [*_roads(drawn, frame), *_signs(drawn, frame, ground, units)]
    return sheet_svg(frame, f"Map of the routes {names}", ground, parts, units)


def _roads(drawn: Sequence[DrawnRoute], frame: Frame) -> Iterable[str]:
    """Yield the routes, one over the other; where they run together all are seen through one another's gaps."""
    paths = [path(frame.place(one.ends)) for one in drawn]
    yield from (f'<path class="casing" d="{drawn_path}"/>' for drawn_path in paths)
    yield from (f'<path class="road bed" d="{drawn_path}"/>' for drawn_path in paths)
    for number, drawn_path in enumerate(paths):
        yield f'<path class="road route-{_style(number)}" d="{drawn_path}"/>'


def _signs(drawn: Sequence[DrawnRoute], frame: Frame, ground: Ground, units: Units) -> Iterable[str]:
    """Yield the routes' letters, then each one's stops, arrows and distances, then towns where room is left."""
    scale = watt_classes(drawn)
    room = room_beside(np.concatenate([frame.place(one.ends) for one in drawn]), WIDTH, frame.height)
    room.taken += furniture_boxes(frame)
    for one in drawn:
        x, y = frame.place(one.ends[one.middle, 0]).tolist()
        room.taken.append((x - 11, y - 11, x + 11, y + 11))
        yield number_svg((x, y), one.letter, stop=False)
    named: set[str] = set()
    for one in drawn:
        surface = Surface(WIDTH, frame.height, _turned(frame, one.turn_deg))
        signs = signs_in(room, one.segments, one.brings, scale, surface, units)
        stops = tuple(
            badge._replace(label=f"{one.letter}{badge.label}") for badge in signs.badges if badge.is_stop
        )
        written = tuple(
            words for words in signs.written if words.kind == "kilometre" or words.words not in named
        )
        named |= {words.words for words in written}
        yield from signs_svg(replace(signs, badges=stops, written=written), scale)
    dots, towns = towns_in(ground.outlines.towns, room, Surface(WIDTH, frame.height, frame.place))
    yield from signs_svg(
        Signs(badges=(), ends=(), written=tuple(towns), arrows=(), ticks=(), dots=tuple(dots)), scale
    )


def _turned(frame: Frame, turn_deg: float) -> Callable[[FloatArray], FloatArray]:
    return lambda points: frame.place(points + np.array([turn_deg, 0.0]))


def _style(number: int) -> int:
    return number % STYLES + 1
