"""Names from files are shown on one line and steer nothing."""

import pytest
from hostile_names import HOSTILE
from hypothesis import given
from hypothesis import strategies as st

from routesolar.trip.names import printable


@pytest.mark.parametrize(
    ("came", "shown"),
    [
        ("Weir & ford", "Weir & ford"),
        ("  two   spaces ", "two spaces"),
        ("one\r\ntwo\u2028three\ttabs", "one two three tabs"),
        ("\x1b[31mred\x9b0m", "[31mred 0m"),
        ("left \u202egnp.exe", "left gnp.exe"),
        ("河 Ōtaki ሀገር", "河 Ōtaki ሀገር"),
        ("", ""),
    ],
)
def test_what_cannot_be_seen_is_left_out(came, shown):
    assert printable(came) == shown


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_names_become_printable(name):
    assert printable(name).isprintable()


@given(st.text())
def test_any_text_becomes_one_printable_line_and_stays_so(text):
    shown = printable(text)
    assert len(shown.splitlines()) <= 1
    assert printable(shown) == shown
    shown.encode()  # no lone surrogates
