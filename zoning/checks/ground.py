"""A piece of ground to advise on, and what its pits say of speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from zoning.checks.rules import rule
from zoning.checks.trials import ridge_curve
from zoning.model.check import RidgeCurve
from zoning.model.settings import MachineSection


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
    def fast_enough(self) -> bool:
        """Whether the speed is one that trial runs found to be even."""
        slowest = self.curve.slowest_even_km_h
        return slowest is not None and self.speed_km_h >= slowest - 0.05
