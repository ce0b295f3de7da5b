"""Whether the base of the pan runs further along the travel heading than across it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from zoning.surface.covariance import Covariance
from zoning.surface.inference import Inference, Recipe
from zoning.surface.likelihood import Posterior, fit_covariance

RATIOS = (1.5, 2.0, 3.0, 4.5)


@dataclass(frozen=True, slots=True)
class HeadingTest:
    """Answer of the likelihood ratio test.

    Parameters
    ----------
    tested
        False where there was no heading or too few readings.
    supported
        Whether the gain is over the limit.
    ratio
        Range along the heading over range across it, the best of `RATIOS`; 1 where not supported.
    twice_gain
        Twice the gain of restricted log likelihood.
    covariance
        The covariance to start from.
    """

    tested: bool
    supported: bool
    ratio: float
    twice_gain: float
    covariance: Covariance

    @property
    def answer(self) -> str:
        """The answer in words."""
        if not self.tested:
            return "not tested: no heading, or too few bases read"
        if not self.supported:
            return "no: the readings do not show a longer range along the travel heading"
        return f"yes: the range is {self.ratio:g} times longer along the travel heading"


def heading_test(
    base: Inference, recipe: Recipe, heading_deg: float | None, fewest: int, limit: float
) -> HeadingTest:
    """Return whether `base` supports a longer range along `heading_deg`.

    The range is allowed to be each of `RATIOS` times longer along the heading; the best one counts
    if twice the gain of restricted log likelihood is more than `limit`.
    """
    fitted = base.fit.covariance
    if heading_deg is None or len(base.used) < fewest:
        return HeadingTest(
            tested=False, supported=False, ratio=1.0, twice_gain=0.0, covariance=fitted
        )
    best, best_likelihood = fitted, base.fit.log_likelihood
    for ratio in RATIOS:
        start = replace(
            fitted, across_ratio=ratio, heading_deg=heading_deg, range_m=fitted.range_m * ratio**0.5
        )
        posterior = Posterior(base.system.readings, recipe.effects, start, recipe.prior)
        fit = fit_covariance(posterior, (start,))
        if fit.log_likelihood > best_likelihood:
            best, best_likelihood = fit.covariance, fit.log_likelihood
    gain = 2.0 * (best_likelihood - base.fit.log_likelihood)
    if gain <= limit:
        return HeadingTest(
            tested=True, supported=False, ratio=1.0, twice_gain=gain, covariance=fitted
        )
    return HeadingTest(
        tested=True, supported=True, ratio=best.across_ratio, twice_gain=gain, covariance=best
    )
