"""Fuel of a diesel tractor at part load, and the carbon dioxide of burning it."""

from __future__ import annotations

import math
from typing import Literal

from zoning.contracts import constant

FuelEquation = Literal["new", "old"]
TABLE = "fuel_equations"


def load_share(pto_power_kw: float, rated_kw: float) -> float:
    """Return the load X: PTO power needed over rated PTO power (not engine power).

    Raises
    ------
    ValueError
        If the rated power is not positive or the load is negative.
    """
    if not rated_kw > 0 or pto_power_kw < 0:
        raise ValueError("rated PTO power must be positive and the power needed not negative")
    return pto_power_kw / rated_kw


def fuel_l_h(
    load: float,
    rated_kw: float,
    equation: FuelEquation = "new",
    engine_speed_ratio: float = 1.0,
) -> float:
    """Return the fuel use of a diesel tractor [L/h].

    ``new``: ``Q = (0.22 X + 0.096) P`` (ASABE D497.7; Grisso, Kocher and Vaughan 2004). ``old``:
    ``Q = (2.64 X + 3.91 - 0.203 sqrt(738 X + 173)) X P`` (ASAE D497.4, clause 3.3.2), which is
    known to lie above tests of newer tractors. P is the rated PTO power [kW].

    Parameters
    ----------
    load
        X, from 0 to 1.
    rated_kw
        Rated PTO power [kW].
    equation
        Which equation.
    engine_speed_ratio
        Engine speed over full engine speed; see `throttle_multiplier`.

    Raises
    ------
    ValueError
        If the load is outside 0 to 1: the tractor cannot do it, and the equations end there.
    """
    full = _new_l_h(load, rated_kw) if equation == "new" else _old_l_kwh(load) * load * rated_kw
    return full * throttle_multiplier(load, engine_speed_ratio)


def specific_l_kwh(load: float, equation: FuelEquation = "new") -> float:
    """Return the fuel per PTO energy [L/kWh] at full throttle, for loads above 0 up to 1."""
    if not load > 0:
        raise ValueError("fuel per energy has no value at no load")
    return _new_l_h(load, 1.0) / load if equation == "new" else _old_l_kwh(load)


def throttle_multiplier(load: float, engine_speed_ratio: float) -> float:
    """Return the factor on fuel use for reduced engine speed.

    ``1 - (N - 1)(0.45 X - 0.877)`` with N engine speed over full engine speed, a ratio and not a
    percentage (ASABE D497.7; Grisso 2004).

    Raises
    ------
    ValueError
        If the load is outside 0 to 1, or the ratio is not above 0 and at most 1.
    """
    _check(load)
    if not 0 < engine_speed_ratio <= 1:
        raise ValueError("engine speed ratio is above 0 and at most 1: a ratio, not a percentage")
    slope, fixed = constant(TABLE, "throttle_slope"), constant(TABLE, "throttle_constant")
    return 1.0 - (engine_speed_ratio - 1.0) * (slope * load - fixed)


def co2_kg(fuel_l: float, factor: str = "default") -> float:
    """Return the carbon dioxide of burning diesel [kg]; `factor` names a row of the table."""
    return fuel_l * constant("emission_factors", factor)


def _check(load: float) -> None:
    if not 0 <= load <= 1:
        raise ValueError(
            f"load {load:.3f} is outside 0 to 1: the tractor cannot give more than its rated power"
        )


def _new_l_h(load: float, rated_kw: float) -> float:
    _check(load)
    return (constant(TABLE, "new_slope") * load + constant(TABLE, "new_idle")) * rated_kw


def _old_l_kwh(load: float) -> float:
    _check(load)
    linear, fixed = constant(TABLE, "old_linear"), constant(TABLE, "old_constant")
    root = math.sqrt(
        constant(TABLE, "old_root_slope") * load + constant(TABLE, "old_root_constant")
    )
    return linear * load + fixed - constant(TABLE, "old_root") * root
