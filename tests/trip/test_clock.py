"""Instants written as dates: against the standard library reading them back."""

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.trip.clock import iso_local, iso_utc

ZONES = ("Australia/Hobart", "Asia/Kathmandu", "America/St_Johns", "Etc/GMT+12", "UTC")
SECONDS = st.floats(-2e9, 8e9)


@given(SECONDS, st.sampled_from(ZONES))
def test_local_and_utc_are_the_same_instant_to_half_a_millisecond(utc_s, zone):
    local = datetime.fromisoformat(iso_local(utc_s, zone))
    assert local.timestamp() == pytest.approx(utc_s, abs=5.1e-4)
    assert datetime.fromisoformat(iso_utc(utc_s)) == local


def test_forms_are_those_of_the_files():
    assert iso_utc(1795120200.0) == "2026-11-19T20:30:00.000Z"
    assert iso_local(1795120200.0, "Australia/Hobart") == "2026-11-20T07:30:00+11:00"
    assert iso_local(1795120200.25, "Australia/Hobart") == "2026-11-20T07:30:00.250+11:00"


def test_rounding_carries_into_the_next_day():
    assert iso_utc(1795132799.9997) == "2026-11-20T00:00:00.000Z"


def test_the_repeated_hour_keeps_its_two_offsets():
    # Tasmania, 4 April 2027: 02:30 happens at UTC+11 and an hour later at UTC+10.
    first_s = datetime.fromisoformat("2027-04-04T02:30:00+11:00").timestamp()
    assert iso_local(first_s, "Australia/Hobart") == "2027-04-04T02:30:00+11:00"
    assert iso_local(first_s + 3600, "Australia/Hobart") == "2027-04-04T02:30:00+10:00"
