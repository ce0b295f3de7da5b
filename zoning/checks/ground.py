"""A piece of ground to advise on, and what its pits say of speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from zoning.checks.rules import rule
from zoning.checks.trials import ridge_curve, wanted_ridge_cm
from zoning.model.check import RidgeCurve
from zoning.model.settings import MachineSection

_NOT_CLEARED = "NOT CLEARED"


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """One piece of ground to advise on."""

    name: str
    facts: pd.Series
    pits: pd.DataFrame
    curve: RidgeCurve
    machine: MachineSection
    zones: pd.DataFrame

    @property
    def state(self) -> str:
        """The verdict, or what most pits show so far."""
        verdict = str(self.facts["verdict"])
        return str(self.facts["so_far"]) if verdict == "cannot_tell" else verdict

    @property
    def speed_km_h(self) -> float:
        """The slowest speed noted at the pits, or that of the settings."""
        noted = float(self.pits["speed_km_h"].min())
        return noted if np.isfinite(noted) else self.machine.speed_km_h

    @property
    def fastest_km_h(self) -> float:
        """The fastest speed noted at the pits, or that of the settings."""
        noted = float(self.pits["speed_km_h"].max())
        return noted if np.isfinite(noted) else self.machine.speed_km_h

    @property
    def worked(self) -> pd.DataFrame:
        """The zones that are worked."""
        return self.zones[self.zones["depth_cm"] > 0]

    @property
    def not_cleared_cm(self) -> list[float]:
        """The depths, from the least, of ground that is NOT CLEARED [cm]."""
        held = self.worked["cleared"] == _NOT_CLEARED
        return sorted(float(depth) for depth in self.worked.loc[held, "depth_cm"].unique())

    @property
    def all_not_cleared(self) -> bool:
        """Whether all of the ground that is worked is NOT CLEARED."""
        return bool(len(self.worked)) and bool((self.worked["cleared"] == _NOT_CLEARED).all())

    @property
    def fastest_pull_km_h(self) -> float:
        """The fastest that the plan's tractor pulls at every cleared depth; infinite if not known.

        Where it holds the speed of the settings the plan knows of no limit. 0 where it cannot pull
        the machine at all.
        """
        if "work_speed_km_h" not in self.worked:
            return float("inf")
        own = self.worked[self.worked["cleared"] != _NOT_CLEARED]
        speeds = own["work_speed_km_h"].astype(float).fillna(0.0)
        slow = speeds[speeds < self.machine.speed_km_h]
        return float(slow.min()) if len(slow) else float("inf")

    @property
    def short_cm(self) -> float:
        """How much shallower than planned the legs ran, mean of the pits; NaN without any [cm]."""
        return float((self.pits["depth_cm"] - self.pits["loosened_at_leg_cm"]).mean())

    @property
    def ran_short(self) -> bool:
        """Whether the legs ran shallower than planned by more than a depth is held to."""
        return self.short_cm >= rule("set_depth_tolerance_cm")

    @property
    def speed_words(self) -> str:
        """The speed at the pits, or from the slowest to the fastest."""
        fastest = float(self.pits["speed_km_h"].max())
        to = f" to {fastest:g}" if fastest > self.speed_km_h else ""
        return f"{self.speed_km_h:g}{to} km/h"

    @property
    def of_pits(self) -> RidgeCurve:
        """The ridge against speed as the pits show it, as if each were a trial run."""
        named = {"pit": "run", "depth_cm": "depth_setting_cm"}
        return ridge_curve(self.pits.rename(columns=named).assign(surface=""))

    @property
    def slow_pits_uneven(self) -> bool:
        """Whether the pits, without trial runs, show an even speed and uneven work below it."""
        seen = self.of_pits
        uneven = seen.speeds["fitted_cm"].ge(rule("ridge_uneven_cm")).any()
        return self.curve.speeds.empty and seen.slowest_even_km_h is not None and bool(uneven)

    @property
    def fast_no_better(self) -> str:
        """Ridges in words where the fastest pits are uneven, no better than the slowest."""
        by_speed = self.pits.groupby("speed_km_h")["ridge_cm"].mean().dropna()
        if len(by_speed) < 2:
            return ""
        slowest, fastest = float(by_speed.iloc[0]), float(by_speed.iloc[-1])
        if fastest < max(slowest, rule("ridge_uneven_cm")):
            return ""
        speeds = by_speed.index.to_numpy(dtype=float)
        return f"{slowest:.0f} cm at {speeds[0]:g} km/h, {fastest:.0f} cm at {speeds[-1]:g} km/h"

    @property
    def slow_pits_even(self) -> str:
        """The speed to drive, in words, where the slowest pits are even and the fastest not."""
        if not self.fast_no_better:
            return ""
        by_speed = self.pits.groupby("speed_km_h")["ridge_cm"].mean().dropna()
        if by_speed.iloc[0] > wanted_ridge_cm():
            return ""
        slowest, fastest = (float(by_speed.index.to_numpy()[i]) for i in (0, -1))
        even = f"{slowest:g} km/h"
        return f"{even} left even work, {fastest:g} did not ({self.fast_no_better}): drive {even}"

    @property
    def fast_enough(self) -> bool:
        """Whether the speed is one that trial runs found to be even."""
        slowest = self.curve.slowest_even_km_h
        return slowest is not None and self.speed_km_h >= slowest - 0.05
