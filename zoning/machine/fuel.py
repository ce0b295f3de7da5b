"""Fuel of a diesel tractor at part load, and the carbon dioxide of burning it."""

from __future__ import annotations

from zoning.contracts import constant

RULES = "machine_rules"


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


def fuel_l_h(load: float, rated_kw: float) -> float:
    """Return the fuel use of a diesel tractor at full throttle [L/h].

    ``Q = (0.22 X + 0.096) P`` (sources ``asae_d497_fuel`` and ``grisso_2004``), with P the rated
    PTO power.

    Parameters
    ----------
    load
        X, from 0 to 1.
    rated_kw
        Rated PTO power [kW].

    Raises
    ------
    ValueError
        If the load is outside 0 to 1: the tractor cannot do it, and the equation ends there.
    """
    if not 0 <= load <= 1:
        raise ValueError(
            f"load {load:.3f} is outside 0 to 1: the tractor cannot give more than its rated power"
        )
    return (constant(RULES, "fuel_slope") * load + constant(RULES, "fuel_idle")) * rated_kw


def co2_kg(fuel_l: float) -> float:
    """Return the carbon dioxide of burning diesel [kg]; source ``epa_ef_hub_2025``."""
    return fuel_l * constant(RULES, "co2_kg_l")
