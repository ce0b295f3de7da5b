"""Fuel equations and emission factors against published figures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.machine import co2_kg, fuel_l_h, load_share, specific_l_kwh, throttle_multiplier

LITRES_A_GALLON = 3.785411784
KW_A_HP = 0.745699872


@pytest.mark.parametrize(
    ("load", "old_l_kwh", "new_l_h_a_kw"),
    [
        # ASAE D497.4 cl. 3.3.2 and ASABE D497.7 (Grisso, Kocher and Vaughan 2004), by arithmetic
        (0.2, 0.8032, 0.140),
        (0.5, 0.5040, 0.206),
        (0.75, 0.4184, 0.261),
        (1.0, 0.4229, 0.316),
    ],
)
def test_both_equations(load: float, old_l_kwh: float, new_l_h_a_kw: float) -> None:
    assert specific_l_kwh(load, "old") == pytest.approx(old_l_kwh, abs=5e-5)
    assert fuel_l_h(load, 1.0) == pytest.approx(new_l_h_a_kw, abs=1e-12)
    assert fuel_l_h(load, 150.0) == pytest.approx(150 * new_l_h_a_kw)
    assert fuel_l_h(load, 100.0, "old") == pytest.approx(old_l_kwh * load * 100, rel=2e-4)


def test_specific_consumption_is_the_new_equation_over_load() -> None:
    # Grisso 2004: 0.22 + 0.096 / X
    assert specific_l_kwh(0.5) == pytest.approx(0.22 + 0.096 / 0.5)


def test_us_form_of_the_new_equation() -> None:
    # Virginia Cooperative Extension 442-073: gal/h = (0.0434 X + 0.019) hp (constants from memory)
    for load in (0.3, 0.8):
        gallons = fuel_l_h(load, 100 * KW_A_HP) / LITRES_A_GALLON
        assert gallons == pytest.approx((0.0434 * load + 0.019) * 100, rel=0.005)


@pytest.mark.parametrize(
    ("ratio", "load", "factor"), [(0.8, 0.5, 0.8696), (0.9, 0.75, 0.94605), (1.0, 0.4, 1.0)]
)
def test_reduced_throttle(ratio: float, load: float, factor: float) -> None:
    # ASABE D497.7; Grisso 2004
    assert throttle_multiplier(load, ratio) == pytest.approx(factor, abs=1e-12)
    assert fuel_l_h(load, 100, engine_speed_ratio=ratio) == pytest.approx(
        factor * fuel_l_h(load, 100)
    )


def test_reduced_throttle_agrees_with_the_form_in_percent() -> None:
    # Grisso 2004 (from memory): 1 - (-0.0045 X N + 0.00877 N), N the percent reduction
    for load, percent in ((0.3, 10.0), (0.6, 25.0)):
        other = 1 - (-0.0045 * load * percent + 0.00877 * percent)
        assert throttle_multiplier(load, 1 - percent / 100) == pytest.approx(other)


@pytest.mark.parametrize("hp_hours_a_gallon", [17, 18])
def test_worked_example_c_fuel(hp_hours_a_gallon: int) -> None:
    """Hoy, Nebraska Tractor Test Laboratory: 200 hp at 17 and 18 hp-h/gal is 11.76 and 11.11 gal/h.

    Those are good tractors: the newer equation, an average of many, burns a little more.
    """
    printed = {17: 11.76, 18: 11.11}[hp_hours_a_gallon]
    l_kwh = LITRES_A_GALLON / (hp_hours_a_gallon * KW_A_HP)
    gallons = fuel_l_h(1.0, 200 * KW_A_HP) / LITRES_A_GALLON
    assert gallons * l_kwh / specific_l_kwh(1.0) == pytest.approx(printed, abs=0.005)
    assert printed < gallons < 1.13 * printed


@pytest.mark.parametrize("equation", ["new", "old"])
@pytest.mark.parametrize("load", [1.0001, -0.01, float("nan")])
def test_load_outside_the_equations_is_refused(equation: str, load: float) -> None:
    with pytest.raises(ValueError, match="load"):
        fuel_l_h(load, 100, equation)


@pytest.mark.parametrize("ratio", [0.0, 1.2, 80.0])
def test_percent_in_place_of_a_ratio_is_refused(ratio: float) -> None:
    with pytest.raises(ValueError, match="ratio"):
        throttle_multiplier(0.5, ratio)


def test_no_load_has_no_fuel_per_energy() -> None:
    with pytest.raises(ValueError, match="no load"):
        specific_l_kwh(0.0)


@pytest.mark.parametrize(("needed", "rated"), [(10, 0), (10, -5), (-1, 100), (10, float("nan"))])
def test_load_share_refuses_nonsense(needed: float, rated: float) -> None:
    with pytest.raises(ValueError, match="power"):
        load_share(needed, rated)


@given(st.floats(0, 1), st.floats(0, 1))
def test_more_load_never_burns_less(one: float, other: float) -> None:
    light, heavy = sorted([one, other])
    assert fuel_l_h(light, 100) <= fuel_l_h(heavy, 100)


@pytest.mark.parametrize(
    ("factor", "kg"),
    [
        ("default", 10.21 / LITRES_A_GALLON),  # US EPA Emission Factors Hub 2025
        ("epa_hub_2025", 2.6972),
        ("uk_2024_average_blend", 2.51279),  # UK Government factors 2024, Fuels!D72
        ("uk_2024_gas_oil", 2.75541),  # Fuels!D108
        ("ipcc_2006", 74.1 * 43.0 / 1000 * 0.835),  # IPCC 2006, from memory
    ],
)
def test_carbon_dioxide(factor: str, kg: float) -> None:
    assert co2_kg(1.0, factor) == pytest.approx(kg, rel=2e-4)
