"""What to say of ground where a hazard holds the depth above the pan."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from zoning.checks.caps import held_name, past_caps
from zoning.checks.looks import missed_strips, stops
from zoning.checks.reasons import left_by_ridge
from zoning.checks.steps import Step
from zoning.checks.words import pits_named
from zoning.contracts import joined
from zoning.model.names import by_name

_RIDGE = (
    " At {} the leg passed the base seen: between legs the ridge left the pan, not the {}, and a "
    "speed that leaves less of a ridge mends that without going deeper."
)


def held_steps(zones: pd.DataFrame, pits: pd.DataFrame) -> Iterator[tuple[str, list[Step]]]:
    """Yield what held ground is called, and what to do there, once a depth and kind of hazard.

    Parameters
    ----------
    zones
        Those of `zoning.checks.bounded`.
    pits
        Rows of `zoning.checks.judge_pits` with ``strike``, as of `zoning.checks.looks.stops`.
    """
    held = zones[zones["held"].to_numpy(dtype=bool)]
    for _, own in held.groupby(["depth_cm", "cap_by"], sort=True):
        depth, by = float(own["depth_cm"].iloc[0]), str(own["cap_by"].iloc[0])
        dug = pits[pits["zone"].isin(own["zone"])]
        urgent = (step for step in stops(dug, own) if step.name == "stop")
        hold = Step("hold", _hold(own, dug, depth, by), tuple(int(zone) for zone in own["zone"]))
        yield held_name(depth, by), [*urgent, *missed_strips(dug, own), hold]


def _hold(zones: pd.DataFrame, pits: pd.DataFrame, depth_cm: float, by: str) -> str:
    names, told = [str(zone) for zone in zones["zone"]], ""
    own = pits[pits["verdict"] != "not_judged"]
    for pan, words in (("yes", " Pan seen in {}."), ("no", " No pan was left at {}.")):
        seen = by_name(own[own["pan"] == pan], "pit")["pit"].tolist()
        told += words.format(pits_named(seen)) if seen else ""
    in_order = by_name(own, "pit").to_dict("records")
    ridge = [str(pit["pit"]) for pit in in_order if left_by_ridge(pit)]
    told += _RIDGE.format(pits_named(ridge), by) if ridge else ""
    deep = past_caps(pits[pits["zone"].isin(zones["zone"])])
    ran = deep.loc[deep["far"], "pit"].tolist()
    to_cm = float(zones[["depth_cm", "deepest_cm"]].to_numpy(dtype=float).min())
    set_it = f" Set the legs to {to_cm:g} cm here: deeper at {pits_named(ran)}." if ran else ""
    return (
        f"Zone{'' if len(names) == 1 else 's'} {joined(names)}: here the {by} holds the work at "
        f"{depth_cm:g} cm; a pan that stays was planned.{told}{set_it} Do not go deeper."
    )
