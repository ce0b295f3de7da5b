"""What to say of the depth: pins first, then the plan; under a ridge last of all."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from zoning.checks.deeper import clearance_of, deeper_cm, how_deep
from zoning.checks.ground import Ground
from zoning.checks.rules import rule
from zoning.checks.steps import Step
from zoning.checks.trials import wanted_ridge_cm
from zoning.checks.words import pits_named, set_deeper
from zoning.model.names import by_name
from zoning.units import tenths

_BEHIND = "Only where speed, points and spacing do not do it"
"""What comes before digging under a ridge that is not even."""


def depth_steps(ground: Ground) -> Iterator[Step]:
    """Yield, where the pan was missed, pins; else the plan, for the base or under the ridge."""
    if not ground.one_way:
        return
    if ground.ran_short or ground.missed_for_short:
        speed = "" if np.isfinite(ground.field_km_h) else " or the speed"
        short_cm = ground.short_cm if ground.ran_short else ground.all_short_cm
        text = (
            f"The legs ran {tenths(short_cm)} cm shallower than planned: check "
            f"{ground.control}, the roller and the frame level, then dig again before changing the "
            f"plan{speed}."
        )
        yield Step("depth", text)
        return
    if text := _as_located(ground):
        yield Step("depth", text)
        return
    ridged = ground.state != "not_reached" and not ground.ridge_cm <= wanted_ridge_cm()
    if ridged and not _carried(ground):
        return
    if ridged and not ground.holds_ridge:
        yield Step("under", _for_the_ridge(ground))
    elif not (ridged and np.isnan(ground.ridge_cm)) and np.isfinite(gap_cm := _gap_cm(ground)):
        text = _for_the_base(ground, gap_cm)
        under = f"{_BEHIND}, go deeper: {text[:1].lower()}{text[1:]}"
        yield Step("under", under) if ridged else Step("depth", text)


def _as_located(ground: Ground) -> str:
    """Return that the planned depth is yet to be worked; blank but where legs kept to the notice.

    That is where the depth planned passes the base at most of the pits that missed, held shallower
    since services were not located: nothing shows there that the pan goes deeper than planned.
    """
    missed = ground.missed("leg" if ground.state == "not_reached" else "between")
    kept = missed[missed["set_cm"] < missed["depth_cm"]]
    passed = kept[kept["depth_cm"] >= kept["base_cm"]]
    if not len(passed) or 2 * len(passed) <= len(missed):
        return ""
    ridge_cm = passed["ridge_cm"].fillna(0.0)
    between = passed["depth_cm"] - ridge_cm >= passed["base_cm"]
    would = "with the ridge found there they would have passed the pan"
    if 2 * int(between.sum()) <= len(passed):
        if ground.state != "not_reached":
            return ""
        would = "the legs would have passed its base, and between them the ridge decides"
    names = pits_named(by_name(passed, "pit")["pit"].tolist())
    return (
        f"The legs kept to the notice depth at {names}: at the depth planned {would}. Once "
        "services are located work there at that depth, dig anew and withdraw these pits, before "
        "any new plan."
    )


def _for_the_base(ground: Ground, gap_cm: float) -> str:
    """Return the depth to set where that passes the base."""
    ran = "The legs ran above the base of the pan."
    if told := _bases_differ(ground):
        ran = f"{ran} {told}"
    elif ground.pits["set_cm"].notna().any():
        below_cm = _clearance_cm(ground)
        bound = how_deep(ground.zones, gap_cm, ground.machine, clearance_cm=below_cm)
        off = f"{tenths(-ground.short_cm)} cm deeper than" if ground.ran_deep else "as"
        than = "" if ground.state == "not_reached" else " than the soil between them was loosened"
        run = f"ran {off} planned"
        if (ground.pits["set_cm"] < ground.pits["depth_cm"]).any():
            run = "kept to the notice depth"
        ran = f"The legs {run} and the pan goes deeper{than}. {bound}"
        ran += _ridge_leaves(ground, gap_cm)
    rows = "each as a further row of phase before"
    if _ridge_unplanned(ground):
        rows += ", and of the ridge as trial runs, the one ridge that a plan adds to its depths"
    return (
        f"{ran} Add what the pits showed of the base to the readings, {rows} "
        "(docs/howto/check.rst, Plan again), and plan again."
    )


def _ridge_unplanned(ground: Ground) -> bool:
    """Return whether pits show a ridge above the clearance and no trial runs give the plan one."""
    if ground.holds_ridge or len(ground.curve.speeds) or "clearance_cm" not in ground.zones:
        return False
    return bool(ground.ridge_cm > ground.zones["clearance_cm"].max())


def _carried(ground: Ground) -> bool:
    """Return whether machine and foot carry the base and the ridge, and more depth is a cure."""
    wanted_cm = float(ground.missed("between")["base_cm"].mean()) + ground.ridge_cm
    return not (ground.mostly_unbroken or wanted_cm > ground.carries_cm)


def _for_the_ridge(ground: Ground) -> str:
    """Return the plan that adds the ridge to the depth."""
    driven = len(ground.curve.speeds)
    asked = "plan again with the trial runs" if driven else "drive trial runs and plan again"
    return (
        f"{_BEHIND}, {asked}: their ridge is then added to the depth once. It costs draft and fuel "
        "on every metre."
    )


def _gap_cm(ground: Ground) -> float:
    """Return how far below the set depth the base of most pits that missed lies [cm].

    Of ``deeper_share`` of them; the depth between the legs stands for the set depth where only that
    missed. NaN where no deeper setting is the cure: where most of them were loosened below the base
    that is known, or the depth that is set passes it.
    """
    where = "leg" if ground.state == "not_reached" else "between"
    missed = ground.missed(where)
    gap = (missed["base_cm"] - missed[f"loosened_{_COLUMN[where]}_cm"]).dropna()
    above = gap[gap > 0]
    if len(above) * 2 <= len(gap):
        return float("nan")
    lacks = (missed["base_cm"] - missed["set_cm"])[above.index].fillna(above)
    lacks = lacks if where == "leg" else above
    gap_cm = float(np.quantile(lacks, rule("deeper_share"), method="higher"))
    return gap_cm if gap_cm > 0 else float("nan")


def _bases_differ(ground: Ground) -> str:
    """Return that no one depth suits the bases of the pits that missed; blank where they agree."""
    missed = by_name(ground.missed("leg"), "pit")
    base = missed["base_cm"].dropna()
    if len(base) < 2 or np.ptp(base) <= rule("bases_agree_cm"):
        return ""
    off = (base - base.median()).abs()
    odd = missed.loc[off[off > rule("bases_agree_cm") / 2.0].index, "pit"].tolist()
    return (
        f"Its base lies at {tenths(base.min())} to {tenths(base.max())} cm in them, so no one "
        f"depth is named: measure it again at {pits_named(odd)} first."
    )


def _clearance_cm(ground: Ground) -> float:
    """Return how far below the base the legs are to go, 0 where they passed it already [cm]."""
    return clearance_of(ground.zones) if ground.state == "not_reached" else 0.0


def _ridge_leaves(ground: Ground, gap_cm: float) -> str:
    """Return how deep the ridge lets the deeper setting loosen between legs, where that is short.

    Blank where the ground holds more depths than one, or the pits told no ridge.
    """
    depths = ground.worked["depth_cm"].unique()
    if ground.state != "not_reached" or len(depths) != 1 or not ground.ridge_cm > 0:
        return ""
    to_cm = deeper_cm(ground.worked, gap_cm + _clearance_cm(ground), ground.machine)
    if to_cm <= depths[0] or to_cm - ground.ridge_cm >= depths[0] + gap_cm:
        return ""
    return (
        f" With the ridge of {tenths(ground.ridge_cm)} cm that the pits show it leaves "
        f"{tenths(to_cm - ground.ridge_cm)} cm between the legs, above the base of "
        f"{tenths(float(depths[0]) + gap_cm)} cm: the ridge is to be lessened too."
    )


_COLUMN = {"leg": "at_leg", "between": "between"}


def off_but_passed(ground: Ground) -> Iterator[Step]:
    """Yield that the legs ran off the plan where no pit shows that the pan was missed for it."""
    reached = ground.facts["verdict"] == "reached"
    look = f"check {ground.control}, the roller and the frame level before the work goes on"
    if ground.ran_short:
        passed = "though the pan was passed" if reached else "so far as was measured"
        ran = f"The legs ran {tenths(ground.short_cm)} cm shallower than planned, {passed}"
        yield Step("depth", f"{ran}: {look}.")
    elif ground.ran_deep:
        text = (
            f"The legs ran {tenths(-ground.short_cm)} cm deeper than planned: {look}. Deeper costs "
            f"fuel, and over a hazard it is dangerous. {set_deeper('they were')}"
        )
        yield Step("depth", text)


def shallower(ground: Ground) -> Iterator[Step]:
    """Yield what is said of work that went too deep; nothing where no plan is known to ask it.

    Nor of the whole field where a depth is told what to change since its pits missed.
    """
    if ground.pits["set_cm"].isna().all() or not ground.one_way or ground.told_apart:
        return
    why = (
        f"The legs ran {tenths(-ground.short_cm)} cm deeper than planned: check {ground.control}, "
        "the roller and the frame level before the work goes on, since over a hazard it is "
        f"dangerous. {set_deeper('they were')}"
        if ground.ran_deep
        else "The plan insures here against a base that it does not know, or the depth is that of "
        "ground beside. Before it is set shallower add readings here and plan again."
    )
    text = (
        f"{why} Deeper than {rule('too_deep_cm'):.0f} cm below the pan costs draft and can press "
        "the soil below."
    )
    yield Step("depth", text)
