"""What the plan asks of whoever drives it: changes of depth, lifts, pins to be moved."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from zoning.model import Notice, Settings


def change_counts(passes: pd.DataFrame) -> Mapping[str, float]:
    """Return how often the depth changes along the passes, and how often legs are lifted between.

    A change is one from a working depth to the next other one on the same pass, though legs be
    lifted between them; a lift lies between two worked stretches of a pass. What is set at the end
    of a pass is not counted. A pass lifted all the way need not be driven.

    Parameters
    ----------
    passes
        ``pass, step, depth_cm``, one row a run.
    """
    table = passes[["pass", "step", "depth_cm"]].sort_values(["pass", "step"])
    worked = table[table["depth_cm"] > 0]
    same_pass = worked["pass"].eq(worked["pass"].shift())
    other = worked["depth_cm"].ne(worked["depth_cm"].shift())
    lifted = worked["step"].sub(worked["step"].shift()).gt(1)
    return {
        "passes": float(table["pass"].nunique()),
        "passes_lifted_throughout": float(table["pass"].nunique() - worked["pass"].nunique()),
        "depth_changes": float((same_pass & other).sum()),
        "lifts_within_passes": float((same_pass & lifted).sum()),
    }


def lifted_notices(changes: Mapping[str, float]) -> tuple[Notice, ...]:
    """Return a note on the passes that are not driven, since no leg is lowered on them.

    Parameters
    ----------
    changes
        What `change_counts` returns.
    """
    count, passes = changes["passes_lifted_throughout"], changes["passes"]
    if not count:
        return ()
    text = (
        f"On {count:.0f} of {passes:.0f} passes the legs stay lifted all the way: leave them out. "
        "They are counted in no time and no fuel."
    )
    return (Notice("note", "passes-left-out", text),)


PINS = "pins-not-in-time"


def pin_notices(
    settings: Settings, zones: pd.DataFrame, changes: Mapping[str, float]
) -> tuple[Notice, ...]:
    """Return a note that the time of the plan leaves out the pins, where pins have to be moved.

    Parameters
    ----------
    settings
        Whether depth is set with pins.
    zones
        ``depth_cm`` and ``time_min``, NaN where no time is reckoned.
    changes
        What `change_counts` returns.
    """
    worked = zones[zones["depth_cm"] > 0]
    depths = worked["depth_cm"].nunique()
    if settings.machine.depth_control != "pins" or depths < 2 or worked["time_min"].isna().all():
        return ()
    along = changes["depth_changes"]
    times = f"{along:.0f} times pass by pass, or fewer with more driving depth by depth"
    how = times if along else f"{depths - 1} times or more, though no pass changes its depth"
    text = f"Moving pins comes on top of the hours: {how}, in the order of work on the sheet."
    return (Notice("note", PINS, text),)
