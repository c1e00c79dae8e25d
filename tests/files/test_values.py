from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routesolar.errors import UsageError
from routesolar.files import values

# Definitions: 1 mi = 1609.344 m, 1 ft = 0.3048 m (international yard, 1959), 1 kn = 1852 m/h (IHO, 1929).
READ: list[tuple[Callable[[str], float], str, float]] = [
    (values.speed_mps, "80km/h", 80 / 3.6),
    (values.speed_mps, " 80 KM/H ", 80 / 3.6),
    (values.speed_mps, "3m/s", 3.0),
    (values.speed_mps, "50mph", 50 * 1609.344 / 3600),
    (values.wind_mps, "10kn", 10 * 1852 / 3600),
    (values.wind_mps, "0m/s", 0.0),
    (values.duration_s, "45min", 2700.0),
    (values.duration_s, "1h30", 5400.0),
    (values.duration_s, "1h 05min", 3900.0),
    (values.duration_s, "1.5h", 5400.0),
    (values.duration_s, "90s", 90.0),
    (values.length_m, "42km", 42_000.0),
    (values.length_m, "42,5 km", 42_500.0),
    (values.length_m, "26mi", 26 * 1609.344),
    (values.length_m, "50m", 50.0),
    (values.length_m, "100ft", 30.48),
    (values.length_m, "0km", 0.0),
    (values.power_w, "200W", 200.0),
    (values.power_w, "0.2kW", 200.0),
    (values.temperature_c, "15C", 15.0),
    (values.temperature_c, "59F", 15.0),
    (values.temperature_c, "-5 °C", -5.0),
    (values.temperature_c, "-40F", -40.0),
]


@pytest.mark.parametrize(("reader", "text", "expected"), READ)
def test_a_number_and_its_unit_become_si(reader: Callable[[str], float], text: str, expected: float) -> None:
    assert reader(text) == pytest.approx(expected, rel=1e-12, abs=1e-12)


REFUSED: list[tuple[Callable[[str], float], str, str]] = [
    (values.speed_mps, "80", "80km/h"),
    (values.speed_mps, "80min", "km/h, "),
    (values.speed_mps, "0km/h", "above zero"),
    (values.speed_mps, "-80km/h", "above zero"),
    (values.speed_mps, "fast", "not a number"),
    (values.speed_mps, "", "not a number"),
    (values.speed_mps, "nankm/h", "not a number"),
    (values.speed_mps, "1e3km/h", "km/h, "),
    (values.speed_mps, "9" * 400 + "km/h", "too large"),
    (values.wind_mps, "-1m/s", "below zero"),
    (values.wind_mps, "500km/h", "beyond any wind on Earth"),
    (values.duration_s, "45", "45min"),
    (values.duration_s, "1h75", "45min"),
    (values.duration_s, "0h00", "above zero"),
    (values.length_m, "42", "42km"),
    (values.length_m, "-1km", "below zero"),
    (values.power_w, "200", "200W"),
    (values.power_w, "0W", "above zero"),
    (values.temperature_c, "15", "C or F"),
    (values.temperature_c, "15K", "C or F"),
    (values.temperature_c, "200C", "beyond any air temperature"),
]


@pytest.mark.parametrize(("reader", "text", "advice"), REFUSED)
def test_what_cannot_be_meant_is_refused_with_an_example(
    reader: Callable[[str], float], text: str, advice: str
) -> None:
    with pytest.raises(UsageError) as caught:
        reader(text)
    assert advice in str(caught.value)


def test_a_unitless_quantity_is_quoted_with_its_name() -> None:
    with pytest.raises(UsageError, match=r'^step is "50" without a unit'):
        values.length_m("50", "step")


def test_a_quantity_is_told_from_a_name() -> None:
    assert values.is_quantity("42km", "length")
    assert not values.is_quantity("42km", "duration")
    assert not values.is_quantity("42nd Street", "length")
    assert values.is_quantity("1h30", "duration")
    assert not values.is_quantity("cover.tif", "length")


@pytest.mark.parametrize(("text", "share"), [("60", 0.6), ("60%", 0.6), ("0", 0.0), ("100 pct", 1.0)])
def test_percent_becomes_a_share(text: str, share: float) -> None:
    assert values.percent_frac(text, "canopy-cover") == share


@pytest.mark.parametrize("text", ["101", "-1", "60km", "much"])
def test_a_percentage_beyond_its_range_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="canopy-cover"):
        values.percent_frac(text, "canopy-cover")


@given(st.text(max_size=20))
def test_no_text_gives_anything_but_a_number_or_one_line(text: str) -> None:
    for reader in (values.speed_mps, values.duration_s, values.length_m, values.power_w, values.temperature_c):
        try:
            assert isinstance(reader(text), float)
        except UsageError as error:
            assert "\n" not in str(error)
