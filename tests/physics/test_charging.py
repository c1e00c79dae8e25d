import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from routesolar.physics.charging import (
    BatteryLimits,
    accepted_w,
    charged_soc_frac,
    control,
    fill_efficiency,
    wired_w,
)
from routesolar.physics.kernel_arrays import Chain

ONE = np.array([1.0])
FLAT = np.array([0.97])
NO_LIMIT = float("inf")


def lossless(capacity_wh: float = 1280.0, max_charge_w: float = 640.0, taper: float = 0.9) -> BatteryLimits:
    return BatteryLimits(capacity_wh, 0.2, max_charge_w, taper, 1.0)


def controlled_w(input_w: list[float], *controller: object) -> list[float]:
    power_w = np.array(input_w)
    control(power_w, np.empty_like(power_w), *controller)
    return power_w.tolist()


def test_controller_clips_at_its_limit_and_only_there() -> None:
    given_w = [500.0, 300.0]
    assert controlled_w(given_w, 408.0, 0.0, 408.0, ONE, ONE) == [408.0, 300.0]
    assert controlled_w(given_w, 408.0, 0.0, 408.0, ONE, FLAT)[0] == pytest.approx(408.0 * 0.97)


def test_controller_gives_nothing_below_start_up_and_at_night() -> None:
    output_w = controlled_w([4.9, 5.0, 0.0], NO_LIMIT, 5.0, 200.0, ONE, FLAT)
    assert output_w == [0.0, pytest.approx(4.85), 0.0]


def test_efficiency_curve_is_straight_between_points_and_flat_outside() -> None:
    load = np.linspace(-0.5, 1.5, 401)
    loads, efficiencies = np.array([0.05, 0.2, 1.0]), np.array([0.90, 0.98, 0.96])
    efficiency_frac = np.empty_like(load)
    fill_efficiency(efficiency_frac, load * 250.0, 250.0, loads, efficiencies)
    assert efficiency_frac == pytest.approx(np.interp(load, loads, efficiencies))


@given(st.floats(0, 1000), st.floats(1, 800))
def test_controller_never_makes_energy(input_w: float, limit_w: float) -> None:
    curve = np.array([0.1, 1.0]), np.array([0.9, 1.0])
    (output_w,) = controlled_w([input_w], limit_w, 2.0, 500.0, *curve)
    assert 0.0 <= output_w <= min(input_w, limit_w)


def test_taper_times_are_the_exact_ones() -> None:
    # 1280 Wh at 640 W from .2, taper from .9: .9 after .7 x 1280/640 = 1.400 h; .99 another
    # tau ln 10 later, tau = .1 x 1280/640 = .2 h, so 1.861 h.
    battery = lossless()
    assert charged_soc_frac(0.2, 640.0, 1.400 * 3600, battery) == pytest.approx(0.9, abs=1e-12)
    assert charged_soc_frac(0.2, 640.0, (1.4 + 0.2 * np.log(10)) * 3600, battery) == pytest.approx(
        0.99, abs=1e-12
    )
    assert charged_soc_frac(0.2, 640.0, 1.861 * 3600, battery) == pytest.approx(0.99, abs=5e-5)


def test_a_small_offer_is_taken_whole_until_the_taper_meets_it() -> None:
    # Lithium at half its capacity an hour tapers from .90, at solar rates from .95-.98 (common practice).
    battery = lossless()
    assert accepted_w(0.98, battery) == pytest.approx(128.0)
    almost = charged_soc_frac(0.9, 128.0, 0.08 * 1280 / 128 * 3600, battery)
    assert almost == pytest.approx(0.98, abs=1e-12)


@given(st.floats(0.0, 0.999), st.floats(0.0, 1500.0), st.floats(0.0, 86400.0), st.floats(0.7, 1.0))
def test_charge_follows_the_acceptance_curve(soc: float, offer: float, span: float, efficiency: float) -> None:
    battery = BatteryLimits(1280.0, 0.2, 640.0, 0.9, efficiency)

    def rise(_: float, state: list[float]) -> list[float]:
        taken = min(offer, 640.0 * min(1.0, (1.0 - state[0]) / 0.1))
        return [taken * efficiency / 1280.0]

    numeric = solve_ivp(rise, (0.0, span / 3600.0), [soc], rtol=1e-8, atol=1e-10, max_step=0.5)
    ours = charged_soc_frac(soc, offer, span, battery)
    assert ours == pytest.approx(numeric.y[0, -1], abs=2e-5)
    halfway = charged_soc_frac(soc, offer, span / 2, battery)
    assert charged_soc_frac(halfway, offer, span / 2, battery) == pytest.approx(ours, abs=1e-12)
    assert soc <= ours <= 1.0


def test_a_full_battery_takes_nothing() -> None:
    battery = lossless()
    assert charged_soc_frac(1.0, 300.0, 3600.0, battery) == 1.0
    assert accepted_w(1.0, battery) == 0.0


def test_losses_in_a_row_multiply() -> None:
    # Any shares will do: what is left is the product of what each leaves.
    power_w, left = 100.0, 100.0
    for soiling, mismatch, wiring in ((0.04, 0.02, 0.07), (0.003, 0.0, 0.11), (0.017, 0.03, 0.0)):
        left *= (1 - soiling) * (1 - mismatch) * (1 - wiring)
        weights = (1.0, 1.0, 1.0, 1.0, 1.0)
        chain = Chain(0.2, *weights, soiling, mismatch, wiring, NO_LIMIT, 0.0, 100.0, ONE, ONE)
        power_w = wired_w(power_w, chain)
    assert power_w == pytest.approx(left, abs=1e-9)
