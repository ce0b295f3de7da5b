"""How the machine ran at each pit: at its depth, afloat or not at all; and what a pit questions.

A leg that floats leaves a low ridge, since it loosens little; a strip that was missed leaves none.
Neither says anything of the speed or of the setting, so both stay out of what is said of them.
Nor does a pit whose depths are in doubt: such depths are no ridge, and its speed is not gone by.
Nor does plastic soil, which no setting loosens.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from zoning.checks.rules import rule
from zoning.model.check import JUDGED


def unworked(depth_cm: pd.Series) -> pd.Series:
    """Return where a loosened depth is none; a blank one is not known to be."""
    return depth_cm <= rule("not_worked_cm")


def base_passed(chance: ArrayLike) -> NDArray[np.bool_]:
    """Return where the pan base counts as passed, by the probability; a NaN says neither."""
    return np.asarray(chance, dtype=np.float64) >= rule("passed_probability")


def base_missed(chance: ArrayLike) -> NDArray[np.bool_]:
    """Return where the pan base counts as not passed, by the probability; a NaN says neither."""
    return np.asarray(chance, dtype=np.float64) < rule("passed_probability")


def leg_least_cm(pits: pd.DataFrame) -> pd.Series:
    """Return the least depth that the leg ran at, NaN without either depth [cm].

    Between the legs is never loosened deeper than at them.
    """
    return pits[["loosened_at_leg_cm", "loosened_between_cm"]].max(axis=1)


def of_plan(pits: pd.DataFrame) -> pd.Series:
    """Return where a pit is not older than the plan, so that its setting is that of the plan."""
    return pits["set_cm"].notna() | (pits["asked"] == "reach")


def afloat(pits: pd.DataFrame) -> pd.Series:
    """Return where a leg floated: by ``single_leg_shallow_cm`` or more, or `floated_only`."""
    short = pits["set_cm"] - pits["loosened_at_leg_cm"] >= rule("single_leg_shallow_cm")
    return short | floated_only(pits)


def dived(pits: pd.DataFrame) -> pd.Series:
    """Return where a leg ran deeper than set by ``single_leg_shallow_cm`` or more, others not so.

    It ran deeper than the median of the pits too, by ``set_depth_tolerance_cm`` or more.
    """
    deep_cm = pits["loosened_at_leg_cm"] - pits["set_cm"]
    alone = deep_cm - deep_cm.median() >= rule("set_depth_tolerance_cm")
    return alone & (deep_cm >= rule("single_leg_shallow_cm"))


def floated_only(pits: pd.DataFrame) -> pd.Series:
    """Return where a leg that ran shallow left the pan, and at its depth would have passed it.

    Shallow by ``set_depth_tolerance_cm`` or more. What the depth that was set less the ridge of the
    pit passes is no matter of the setting.
    """
    short = pits["set_cm"] - pits["loosened_at_leg_cm"] >= rule("set_depth_tolerance_cm")
    left = base_missed(pits["chance_between"]) & (pits["loosened_between_cm"] < pits["base_cm"])
    return short & left & (pits["set_cm"] - pits["ridge_cm"] >= pits["base_cm"])


def doubted(pits: pd.DataFrame) -> pd.Series:
    """Return where the loosened depths go neither with the machine nor with the pan noted."""
    return pits["asked"].isin(("reach", "no_pan"))


def settable(pits: pd.DataFrame) -> pd.Series:
    """Return where a setting could do anything: soil that was worked and was not plastic."""
    return (pits["verdict"] != "not_worked") & (pits["moisture"] != "plastic")


def sound(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the `settable` pits whose depths are not in doubt."""
    return pits[settable(pits) & ~doubted(pits)]


def steady(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the `sound` pits whose leg did not float: all that ridge and speed go by."""
    own = sound(pits)
    return own[~afloat(own)]


def at_depth(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the `steady` pits whose leg ran less than ``set_depth_tolerance_cm`` shallow."""
    own = steady(pits)
    return own[own["set_cm"] - own["loosened_at_leg_cm"] < rule("set_depth_tolerance_cm")]


def charted(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the pits whose ridge is drawn: `steady` ones, and such of plastic soil, marked so."""
    return pits.loc[steady(pits.assign(moisture="")).index]


def is_unbroken(pit: Mapping[Any, Any] | pd.Series) -> bool:
    """Return whether a pan is seen in a pit although the soil is loosened below its noted base."""
    below = pit["loosened_between_cm"] - pit["base_cm"]
    noted = pit["pan"] == "yes" and pit["base_from"] == "pit"
    return bool(noted and below >= rule("pan_below_cm"))


def unbroken(pits: pd.DataFrame) -> pd.Series:
    """Return `is_unbroken` of each pit."""
    below = pits["loosened_between_cm"] - pits["base_cm"] >= rule("pan_below_cm")
    return (pits["pan"] == "yes") & (pits["base_from"] == "pit") & below


def depths_off(pits: pd.DataFrame) -> frozenset[float]:
    """Return the planned depths that the legs ran off, by ``set_depth_tolerance_cm`` or more [cm].

    By the median of the pits that count: where most floated, so the ground was worked.
    """
    own = sound(pits[pits["verdict"].isin(JUDGED)])
    off_cm = (own["loosened_at_leg_cm"] - own["depth_cm"]).groupby(own["depth_cm"]).median().abs()
    return frozenset(off_cm.index[off_cm >= rule("set_depth_tolerance_cm")].astype(float))


def ridge_cm(pits: pd.DataFrame) -> float:
    """Return the mean ridge of the pits that ran steadily, of all where none did; or NaN [cm]."""
    own = steady(pits)
    return float((own if len(own) else sound(pits))["ridge_cm"].mean())
