"""What the fields of one farm have in common, as a prior for each of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from zoning.surface.likelihood import CovariancePrior
from zoning.surface.priors import BODY, PartCodes, base_effects
from zoning.surface.system import Effects


@dataclass(frozen=True, slots=True)
class Shift:
    """Normal prior of the effect of one part on the base [cm]; for the body, of the level."""

    part: str
    mean_cm: float
    sd_cm: float


@dataclass(frozen=True, slots=True)
class SharedPrior:
    """Priors of one field, learnt from the fields of its farm or its soil.

    Parameters
    ----------
    fields
        Number of fields it was learnt from.
    covariance
        Priors of the covariance of the base.
    shifts
        Priors of the level of the body and of the effects of the known parts.
    """

    fields: int
    covariance: CovariancePrior
    shifts: tuple[Shift, ...]

    def facts(self) -> Mapping[str, float]:
        """Return name to number, six decimals, as ``plan.json`` keeps them."""
        c = self.covariance
        facts = {
            "fields": float(self.fields),
            "sill_cm2": c.sill,
            "log_sill_sd": c.log_sill_sd,
            "nugget_share": c.nugget_share,
            "logit_share_sd": c.logit_share_sd,
            "practical_range_m": c.practical_range_m,
            "log_range_sd": c.log_range_sd,
        }
        for shift in self.shifts:
            facts[f"{shift.part}_cm"] = shift.mean_cm
            facts[f"{shift.part}_sd_cm"] = shift.sd_cm
        return {f"shared_prior_{name}": round(value, 6) for name, value in facts.items()}

    def effects(self, parts: PartCodes, *, several_days: bool) -> Effects:
        """Return the priors of level, parts and days; named areas keep the usual ones."""
        usual = base_effects(parts, several_days=several_days)
        mean, var = usual.part_mean.copy(), usual.part_var.copy()
        level, precision = usual.level, usual.level_precision
        for shift in self.shifts:
            if shift.part == BODY:
                level, precision = shift.mean_cm, 1.0 / shift.sd_cm**2
            else:
                code = parts.names.index(shift.part)
                mean[code], var[code] = shift.mean_cm, shift.sd_cm**2
        return replace(usual, part_mean=mean, part_var=var, level=level, level_precision=precision)
