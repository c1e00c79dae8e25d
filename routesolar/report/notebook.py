"""A result as a piece of HTML for a notebook: the answer, a picture, a table."""

from base64 import b64encode
from collections.abc import Sequence
from functools import singledispatch

import numpy as np
from markupsafe import Markup

from routesolar.decisions.breaks import Breaks
from routesolar.decisions.calendar import YearCalendar
from routesolar.decisions.compare import Comparison
from routesolar.decisions.departures import Departures, ranked
from routesolar.decisions.park import Parking
from routesolar.decisions.size import Sizing
from routesolar.report.basis_words import rests_on
from routesolar.report.clock_words import clock_of
from routesolar.report.colours import POWER, classes
from routesolar.report.decision_charts import breaks_png, calendar_png, compare_png, departures_png, size_png
from routesolar.report.decision_text import MOST_ROWS, Words, share
from routesolar.report.map_signs import brought
from routesolar.report.open_road import first_said
from routesolar.report.page_parts import asset, key_rows, page_templates
from routesolar.report.park_chart import park_png
from routesolar.report.pieces import piece_watts, pieces_of
from routesolar.report.still_map import Painted, painted_svg
from routesolar.report.units import METRIC, distance, energy, readable
from routesolar.report.words_sizes import size_words
from routesolar.report.words_when import calendar_words, departures_words, year_words
from routesolar.report.words_where import breaks_words, park_words, stay_words
from routesolar.report.words_which import compare_words
from routesolar.trip.basis import basis_of
from routesolar.trip.departure_watts import DepartureWatts
from routesolar.trip.drawable import Drawable
from routesolar.trip.ground import Ground
from routesolar.trip.harvest import Harvest
from routesolar.trip.names import printable
from routesolar.trip.sweep import Sweep
from routesolar.version import SOFTWARE

MOST_PIECES = 2_000


@singledispatch
def notebook_html(result: object) -> str:
    """Return a result as HTML without script, the same for the same result.

    Raises:
        TypeError: there is no picture of such a result.
    """
    raise TypeError(f"{type(result).__name__} cannot be drawn")


@notebook_html.register
def _(result: Harvest) -> str:
    pieces = pieces_of(result.segments, MOST_PIECES)
    watts = DepartureWatts(segments=result.segments, power_w=result.power_w[None].astype(np.float32))
    scale = classes(float(result.power_w.max(initial=0)), POWER)
    brings = brought(result.segments, result.power_w)
    painted = Painted(result.segments, pieces, piece_watts(watts, pieces)[0].astype(float), scale, brings)
    key = [(colour, label) for colour, label in key_rows(scale) if label != "none"]
    picture = Markup(painted_svg(painted, Ground(), METRIC))
    return _rendered(_harvest_words(result), picture, result.warnings, result.drives, key)


@notebook_html.register
def _(result: Sweep) -> str:
    return notebook_html(ranked(result))


@notebook_html.register
def _(result: Departures) -> str:
    return _rendered(departures_words(result), _picture(departures_png(result)), result.warnings, result.drives)


@notebook_html.register
def _(result: YearCalendar) -> str:
    return _rendered(
        calendar_words(result),
        _picture(calendar_png(result)),
        result.warnings,
        result.drives,
        when=year_words(result),
    )


@notebook_html.register
def _(result: Comparison) -> str:
    return _rendered(
        compare_words(result, METRIC), _picture(compare_png(result)), result.warnings, result.drives
    )


@notebook_html.register
def _(result: Breaks) -> str:
    return _rendered(breaks_words(result, METRIC), _picture(breaks_png(result)), result.warnings, result.drives)


@notebook_html.register
def _(result: Sizing) -> str:
    return _rendered(size_words(result), _picture(size_png(result)), result.warnings, result.drives)


@notebook_html.register
def _(result: Parking) -> str:
    return _rendered(
        park_words(result, METRIC),
        _picture(park_png(result)),
        result.warnings,
        result.drives,
        when=stay_words(result),
    )


def _harvest_words(harvest: Harvest) -> Words:
    totals, zone = harvest.totals, harvest.segments.time_zone
    least = totals.energy_low_wh
    bound = "" if least is None else f", nine {clock_of(harvest).case}s in ten at least {energy(least)}"
    return Words(
        answer=first_said(
            f"Expect {energy(totals.energy_wh)} on this drive{bound}, under {harvest.sky} sky.",
            harvest.drives,
        ),
        remarks=(f"{distance(totals.distance_km, METRIC)}, local times of {zone}.",),
        header=("leg", "start", "Wh", "mean W", "shade loss %"),
        cells=tuple(
            (
                f"{leg.leg} {leg.name}",
                clock_of(harvest).at(leg.start_utc_s),
                readable(leg.energy_wh),
                readable(leg.mean_w),
                share(leg.shade_loss_frac),
            )
            for leg in harvest.legs
        ),
        chart_words="",
    )


def _picture(png: bytes) -> Markup:
    return Markup('<img alt="" src="data:image/png;base64,{}">').format(b64encode(png).decode())


def _rendered(
    words: Words,
    picture: Markup,
    warnings: tuple[str, ...],
    drives: Sequence[Drawable],
    key: list[tuple[str, str]] | None = None,
    when: str = "",
) -> str:
    line = rests_on(basis_of(drives[0]), SOFTWARE, when) if drives else ""
    return (
        page_templates()
        .get_template("notebook.html")
        .render(
            style=Markup(asset("notebook.css")),
            answer=printable(words.answer),
            rests_on=line,
            remarks=[printable(remark) for remark in words.remarks],
            picture=picture,
            key=key or [],
            header=words.header,
            rows=[[printable(cell) for cell in row] for row in words.cells[:MOST_ROWS]],
            more=max(0, len(words.cells) - MOST_ROWS),
            warnings=[printable(warning) for warning in warnings],
        )
    )
