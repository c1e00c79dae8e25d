"""Local times: with their dates wherever more than one day is spanned."""

import re
from dataclasses import replace
from datetime import datetime

import pytest
from sample_harvest import ZONE, full_report, winding_report

from routesolar.report import text
from routesolar.report.clock_words import LocalClock
from routesolar.report.hour_bars import hours_svg
from routesolar.report.page import page_html
from routesolar.report.table import harvest_text
from routesolar.report.units import METRIC


def at(local: str) -> float:
    return datetime.fromisoformat(f"{local}:00+11:00").timestamp()


def test_one_day_has_clock_times_alone():
    day = LocalClock(at("2026-11-20T00:00"), at("2026-11-20T23:58"), ZONE)
    assert day.at(at("2026-11-20T12:42")) == "12:42"
    assert day.between(at("2026-11-20T10:00"), at("2026-11-20T14:00")) == "10:00 to 14:00"


@pytest.mark.parametrize("start", ["2026-11-20T23:59", "2026-11-19T08:00", "2025-11-20T08:00"])
def test_past_a_midnight_every_time_has_its_date(start):
    days = LocalClock(at(start), at("2026-11-21T00:00"), ZONE)
    assert days.at(at("2026-11-20T12:42")) == "Fri 20 Nov 12:42"
    assert days.between(at("2026-11-20T10:00"), at("2026-11-20T14:00")) == "Fri 20 Nov 10:00 to 14:00"
    assert (
        days.between(at("2026-11-20T22:00"), at("2026-11-21T00:00")) == "Fri 20 Nov 22:00 to Sat 21 Nov 00:00"
    )


def test_the_date_is_that_of_the_minute_that_is_shown():
    days = LocalClock(at("2026-11-20T08:00"), at("2026-11-22T08:00"), ZONE)
    assert days.at(at("2026-11-21T00:00") - 20) == "Sat 21 Nov 00:00"


def test_a_drive_past_midnight_has_no_time_without_a_date():
    report = winding_report(60, depart_utc_s=at("2026-11-20T21:00"))
    legs = harvest_text(report, METRIC, 120)
    assert "20 Nov 21:00" in legs and "21 Nov 11:00" not in legs
    times = re.findall(r"(\S+ )?\b\d\d:\d\d\b", legs.partition("leg ")[2].partition("whole")[0])
    assert len(times) == 5 and set(times) == {"Nov "}


@pytest.mark.parametrize("hour", [21, 22, 23])
def test_hour_bars_and_page_show_the_date_at_midnight(hour):
    report = winding_report(60, depart_utc_s=at(f"2026-11-20T{hour}:00"))
    assert ">Sat 21 Nov</text>" in hours_svg(report.harvest)
    assert ">Sat 21 Nov</text>" not in hours_svg(winding_report(60).harvest)
    assert f"20 Nov {hour}:00" in page_html(report)


def test_full_says_what_counts_as_full():
    report = full_report()
    full = replace(report.harvest.charge, first_full_utc_s=at("2026-11-20T12:42"), full_prob=0.6)
    report = replace(report, harvest=replace(report.harvest, charge=full))
    assert "It is full (99 % or more) by 12:42 on half of such days." in text.battery(report)
