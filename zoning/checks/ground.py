"""A piece of ground to advise on, and what its pits say of speed."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from zoning.checks.ran import (
    afloat,
    at_depth,
    base_missed,
    dived,
    floated_only,
    sound,
    steady,
    unbroken,
)
from zoning.checks.rules import rule
from zoning.checks.slower import compared, fast_ridge_words, ridge_from_cm, same_km_h, slower_km_h
from zoning.checks.steps import OWN_SPEED
from zoning.checks.trials import curve_of_pits, wanted_ridge_cm
from zoning.contracts import NOT_CLEARED
from zoning.model.check import RidgeCurve
from zoning.model.settings import MachineSection
from zoning.units import as_number


@dataclass(frozen=True, eq=False)
class Ground:
    """One piece of ground to advise on."""

    name: str
    facts: pd.Series
    pits: pd.DataFrame
    curve: RidgeCurve
    machine: MachineSection
    zones: pd.DataFrame
    after_speed: str = ""
    """When points and wings are due, in words, where pits or runs name a speed; else blank."""
    field_km_h: float = np.nan
    """The speed that the whole field names; NaN without one."""
    field_slows: bool = False
    """Whether that speed is the `slower_km_h` of the field."""
    tried: pd.DataFrame = field(default_factory=pd.DataFrame)
    """The pits that were withdrawn, as `zoning.checks.tried`."""
    told_apart: frozenset[str] = frozenset()
    """The pits of depths and parts that are told apart what to change, since these missed there."""
    settled_cm: frozenset[float] = frozenset()
    """The depths that pits enough show to be reached, all where the whole field is [cm]."""

    @property
    def state(self) -> str:
        """The verdict, or what most pits show so far."""
        verdict = str(self.facts["verdict"])
        return str(self.facts["so_far"]) if verdict == "cannot_tell" else verdict

    @property
    def steady(self) -> pd.DataFrame:
        """The sound pits whose leg did not float; all that are `telling` where every one did."""
        own = steady(self.pits)
        return own if len(own) else sound(self.telling)

    @property
    def afloat(self) -> pd.DataFrame:
        """The pits whose leg floated."""
        return self.pits[afloat(self.pits)]

    @property
    def dived(self) -> pd.DataFrame:
        """The pits whose leg ran far deeper than set, and than most."""
        return self.pits[dived(self.pits)]

    @property
    def telling(self) -> pd.DataFrame:
        """The pits that say something of the setting: not only a shallow leg left the pan there."""
        return self.pits[~floated_only(self.pits)]

    @property
    def mostly_afloat(self) -> bool:
        """Whether the legs floated at more than half of them: a matter of all the ground."""
        return bool(afloat(self.telling).sum() * 2 > len(self.telling))

    def missed(self, where: str) -> pd.DataFrame:
        """Return the pits not passed at ``leg`` or ``between``, less those that only floated."""
        return self.telling[base_missed(self.telling[f"chance_{where}"])]

    @property
    def left(self) -> pd.DataFrame:
        """The pits not passed between the legs, less those that are told apart."""
        own = self.missed("between")
        return own[~own["pit"].isin(self.told_apart)]

    @property
    def unbroken(self) -> pd.DataFrame:
        """The pits that show a pan although the soil is loosened below its noted base."""
        return self.pits[unbroken(self.pits)]

    @property
    def mostly_unbroken(self) -> bool:
        """Whether that is how most of the pits with a pan left between legs show it."""
        return len(self.unbroken) * 2 > len(self.missed("between"))

    @property
    def ridge_cm(self) -> float:
        """The mean ridge of the pits, those whose leg floated left out; NaN if not known [cm]."""
        return float(self.steady["ridge_cm"].mean())

    @property
    def speed_km_h(self) -> float:
        """The slowest speed noted at the pits, or that of the settings."""
        noted = float(self.steady["speed_km_h"].min())
        return noted if np.isfinite(noted) else self.machine.speed_km_h

    @property
    def fastest_km_h(self) -> float:
        """The fastest speed noted at the pits, or that of the settings."""
        noted = float(self.steady["speed_km_h"].max())
        return noted if np.isfinite(noted) else self.machine.speed_km_h

    @property
    def worked(self) -> pd.DataFrame:
        """The zones that are worked and that no hazard holds above the pan."""
        return self.zones[(self.zones["depth_cm"] > 0) & ~self.zones["held"].astype(bool)]

    @property
    def not_cleared_cm(self) -> list[float]:
        """The depths, from the least, of ground that is NOT CLEARED [cm]."""
        zones = self.zones[(self.zones["depth_cm"] > 0) & (self.zones["cleared"] == NOT_CLEARED)]
        return sorted(float(depth) for depth in zones["depth_cm"].unique())

    @property
    def all_not_cleared(self) -> bool:
        """Whether no more than scraps of the ground that is worked are cleared."""
        held = self.worked["cleared"] == NOT_CLEARED
        rest = float(self.worked.loc[~held, "area_ha"].sum())
        return bool(held.any()) and rest < rule("dig_least_ha")

    @property
    def fastest_pull_km_h(self) -> float:
        """The fastest that the tractor pulls at every cleared depth; infinite if not known.

        Where nothing is cleared it is that of all depths; 0 where it cannot pull the machine.
        """
        cleared = (self.worked["cleared"] != NOT_CLEARED) | self.all_not_cleared
        own = self.worked[cleared]
        if "work_speed_km_h" not in own or own.empty:
            return float("inf")
        return float(own["work_speed_km_h"].astype(float).fillna(0.0).min())

    @property
    def floats_from_km_h(self) -> float:
        """The least speed that the machine floated at, faster than it held; infinite without."""
        floats_km_h = float(sound(self.afloat)["speed_km_h"].min())
        return floats_km_h if floats_km_h > at_depth(self.pits)["speed_km_h"].max() else np.inf

    def holds(self, speed_km_h: float) -> bool:
        """Return whether nothing speaks against a speed: neither the pull nor a floating leg."""
        return speed_km_h <= self.fastest_pull_km_h and speed_km_h < self.floats_from_km_h

    @property
    def control(self) -> str:
        """What sets the depth, in words."""
        return "the pins" if self.machine.depth_control == "pins" else "the depth control"

    @property
    def carries_cm(self) -> float:
        """The deepest that the machine is set to and that its foot lifts, as far as known [cm]."""
        foot = self.worked.get("foot_lifts_cm", pd.Series([np.inf])).min()
        return float(np.fmin(self.machine.depth_max_cm, foot))

    @property
    def holds_ridge(self) -> bool:
        """Whether the plan that was worked to holds the ridge of trial runs in its depths."""
        return "plan_ridge_cm" in self.zones and bool((self.zones["plan_ridge_cm"] > 0).any())

    @property
    def foot_narrow_cm(self) -> list[float]:
        """The depths of ground where the plan warns that the foot no longer lifts the soil [cm]."""
        return self._warned_cm("foot_narrow")

    @property
    def legs_wide_cm(self) -> list[float]:
        """The depths of ground where the plan warns that the legs stand too far apart [cm]."""
        return self._warned_cm("legs_wide")

    def _warned_cm(self, column: str) -> list[float]:
        own = self.worked
        told = own[own[column].astype(bool)] if column in own else own.iloc[:0]
        area_ha = told.groupby("depth_cm")["area_ha"].sum()
        return [as_number(depth) for depth in area_ha.index[area_ha >= rule("dig_least_ha")]]

    @property
    def short_cm(self) -> float:
        """How much shallower than planned the legs ran [cm]: the mean, or the median if deeper.

        NaN where it is not known of most, and where it is not `one_way`.
        """
        own = self.pits if self.mostly_afloat else self.pits.drop(self.afloat.index)
        own = own.drop(self.dived.index, errors="ignore")
        known = own["set_cm"].notna()
        if known.sum() * 2 <= len(own) or not self.one_way:
            return float("nan")
        off = own["set_cm"] - own["loosened_at_leg_cm"]
        return float(min(off.mean(), off.median()) if off.median() < 0 else off.mean())

    @property
    def one_way(self) -> bool:
        """Whether the legs ran as planned, or off it to one side, at all depths of the ground.

        Legs too deep at one depth and too shallow at another are a matter of each depth.
        """
        off = self.pits["set_cm"] - self.pits["loosened_at_leg_cm"]
        means = off.groupby(self.pits["depth_cm"]).mean().dropna()
        held = (means.abs() < rule("set_depth_tolerance_cm")).all()
        return bool(held or (means >= 0).all() or (means <= 0).all())

    @property
    def ran_short(self) -> bool:
        """Whether the legs ran shallower than planned by more than a depth is held to."""
        return self.short_cm >= rule("set_depth_tolerance_cm")

    @property
    def all_short_cm(self) -> float:
        """How much shallower than planned the legs ran on average, afloat or not [cm]."""
        own = sound(self.pits)
        return float((own["set_cm"] - own["loosened_at_leg_cm"]).mean())

    @property
    def missed_for_short(self) -> bool:
        """Whether most pits that missed would have passed, held at the depth set with their ridge.

        Then nothing shows that the pan goes deeper, however little each leg ran shallow.
        """
        own = sound(self.pits)
        left = own[base_missed(own["chance_between"]) & own["set_cm"].notna()]
        held = left["set_cm"] - left["ridge_cm"] >= left["base_cm"]
        return bool(held.sum() * 2 > len(left) and self.all_short_cm >= rule("depth_read_sd_cm"))

    @property
    def ran_deep(self) -> bool:
        """Whether the legs ran deeper than planned by more than a depth is held to."""
        return -self.short_cm >= rule("set_depth_tolerance_cm")

    @property
    def speed_words(self) -> str:
        """The speed at the pits, or from the slowest to the fastest."""
        fastest = float(self.steady["speed_km_h"].max())
        to = f" to {fastest:g}" if fastest > self.speed_km_h else ""
        return f"{self.speed_km_h:g}{to} km/h"

    @cached_property
    def of_pits(self) -> RidgeCurve:
        """The ridge against speed as the pits `compared` show it, as if each were a trial run."""
        return curve_of_pits(compared(steady(self.pits)))

    @property
    def even_km_h(self) -> float:
        """The slowest speed that left even work, of pits where slower ones did not, else of runs.

        NaN without one.
        """
        seen = self.of_pits if self.faster_pits_even else self.curve
        return np.nan if seen.slowest_even_km_h is None else seen.slowest_even_km_h

    @property
    def faster_pits_even(self) -> bool:
        """Whether the pits show even work at a speed, and clearly more of a ridge below it."""
        even, speeds = self.of_pits.slowest_even_km_h, self.of_pits.speeds
        if even is None:
            return False
        fitted_cm = speeds.set_index("speed_km_h")["fitted_cm"]
        return bool(fitted_cm.max() - fitted_cm[even] >= rule("ridge_clear_cm"))

    @property
    def slow_left_pan(self) -> bool:
        """Whether pits slower than those that were even left the pan, though the leg passed it."""
        own = compared(steady(self.pits))
        left = base_missed(own["chance_between"]) & ~base_missed(own["chance_leg"])
        slow = bool((own.loc[left, "speed_km_h"] < self.even_km_h).any())
        return self.faster_pits_even and slow and not self.drives_even

    @property
    def drives_even(self) -> bool:
        """Whether the ground is reached, and most pits ran at the speed that they show to be even.

        Then slower pits of before ask for nothing more.
        """
        speed = compared(steady(self.pits))["speed_km_h"]
        most = self.faster_pits_even and (speed >= self.even_km_h).sum() * 2 > len(speed)
        return bool(most and self.facts["verdict"] == "reached")

    @property
    def uneven(self) -> bool:
        """Whether the mean ridge is uneven, or that of slow pits beside faster ones that are even.

        A ridge that is no more than fair asks for nothing where the pan was passed.
        """
        least = rule("ridge_uneven_cm")
        slow = self.faster_pits_even and self.of_pits.speeds["fitted_cm"].max() >= least
        return bool(self.ridge_cm >= least or (slow and not self.drives_even))

    @property
    def fast_ridge_words(self) -> str:
        """Ridges in words where the fastest pits are uneven, no better than the slowest."""
        return fast_ridge_words(steady(self.pits))

    @cached_property
    def slower_km_h(self) -> float:
        """The speed to go back to before anything else is changed, as `slower_km_h`; or NaN."""
        untold = self.curve.speeds.empty and not self.faster_pits_even
        plan_km_h = self.machine.speed_km_h if untold else np.nan
        told = [own for own in (steady(self.pits), self.tried) if len(own)] or [self.pits.iloc[:0]]
        slower = slower_km_h(pd.concat(told), plan_km_h)
        return slower if self.holds(slower) else np.nan

    @property
    def named_km_h(self) -> float:
        """The speed to drive as pits or runs show it, slower or faster; NaN without one."""
        slower = self.slower_km_h
        return slower if np.isfinite(slower) else self.even_km_h

    @property
    def slows(self) -> bool:
        """Whether a slower run comes before other changes: here, or of the field for most pits."""
        faster = self.steady["speed_km_h"] > self.field_km_h
        most = self.field_slows and faster.sum() * 2 > len(faster)
        return bool(np.isfinite(self.slower_km_h) or most)

    def told_with_speed(self, pits: pd.DataFrame) -> pd.Series:
        """Return which pits the speed is to mend that is named here, or for the whole field."""
        own, speed = self.after_speed == OWN_SPEED, pits["speed_km_h"]
        km_h = self.named_km_h if own else self.field_km_h
        slows = np.isfinite(self.slower_km_h) if own else self.field_slows
        return speed > km_h if slows else speed < km_h

    @property
    def fast_enough(self) -> bool:
        """Whether the speed is one that trial runs found to be even, or pits driven at it deny."""
        slowest = self.curve.slowest_even_km_h
        same = slowest is not None and self.speed_km_h >= slowest - same_km_h()
        return same or self.denied_cm > wanted_ridge_cm()

    @property
    def denied_cm(self) -> float:
        """The ridge of pits as fast as the trial runs that were even; NaN without one [cm]."""
        return ridge_from_cm(steady(self.pits), self.curve.slowest_even_km_h)
