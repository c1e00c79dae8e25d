"""Every kind of page, written once, with what is hardest to lay out: long names, long roads, long trips."""

from dataclasses import replace
from functools import cache

from sample_decisions import (
    a_year,
    calendar_report,
    compared_report,
    departing_watts,
    departures_report,
    ranked,
    side_by_side,
    size_report,
    sizes,
)
from sample_harvest import full_report, sample_ground
from sample_parking import lattice_parking, parking_report

from routesolar.report.calendar_page import calendar_html
from routesolar.report.compare_page import compare_html
from routesolar.report.departures_page import departures_html
from routesolar.report.page import page_html
from routesolar.report.park_page import park_html
from routesolar.report.size_page import size_html

UNBROKEN = "recording_of_the_upper_river_survey_with_all_stops_2026_final"  # a file's name, 60 letters
WORDY = "Myrtle Bend gauging station, the upper one behind the bridge"  # 60 letters
LONG_NAMES = (UNBROKEN, WORDY)


def _with_long_names(report):
    harvest = report.harvest
    legs = tuple(replace(leg, name=LONG_NAMES[leg.leg % 2]) for leg in harvest.legs)
    named = tuple(replace(leg, name=LONG_NAMES[(n + 1) % 2]) for n, leg in enumerate(harvest.segments.legs))
    segments = replace(harvest.segments, legs=named, route_name=UNBROKEN)
    harvest = replace(harvest, legs=legs, segments=segments, warnings=(UNBROKEN,), notes=(WORDY,))
    return replace(report, harvest=harvest)


def _departures():
    watts = departing_watts(600, 61)
    legs = tuple(replace(leg, name=LONG_NAMES[n % 2]) for n, leg in enumerate(watts.segments.legs))
    watts = replace(watts, segments=replace(watts.segments, legs=legs))
    result = ranked(watts)
    return departures_html(departures_report(result, UNBROKEN), result, watts, sample_ground())


def _comparison():
    result, drives = side_by_side(LONG_NAMES, 600)
    return compare_html(compared_report(result, UNBROKEN), result, drives, sample_ground())


def _parking():
    result = lattice_parking(name=WORDY)
    return park_html(parking_report(result, UNBROKEN), result)


MAKERS = {
    "harvest": lambda: _with_long_names(full_report(600)),
    "long road": lambda: full_report(20_000),
    "long trip": lambda: _with_long_names(full_report(600, lasts_h=52.0)),
    "departures": _departures,
    "compare": _comparison,
    "park": _parking,
    "calendar": lambda: calendar_html(calendar_report(a_year(), UNBROKEN), a_year()),
    "size": lambda: size_html(size_report(sizes(), UNBROKEN), sizes()),
}


@cache
def page_of(kind):
    """The page's HTML."""
    made = MAKERS[kind]()
    return made if isinstance(made, str) else page_html(made)
