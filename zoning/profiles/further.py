"""Hard layers below the pan that was taken: what the user must be told of them."""

from __future__ import annotations

from collections.abc import Collection

import pandas as pd

from zoning.contracts import joined
from zoning.model import Notice
from zoning.profiles.moisture import some_names
from zoning.profiles.rules import rule
from zoning.profiles.verdicts import PAN

_TEXT = (
    "At {stations} a pan, used or not, a further hard layer lies "
    "below it, from {where} cm down: {names}. It is not taken for a second pan, and the working "
    "depth does not allow for it. "
)
_TO_SEE = "to see whether it is subsoil or a deeper pan"
_KEPT_OFF = "a keep-off lies there or right beside"
_DRY = " The soil was dry at {count} of them: dryness may be all that is hard there."


def deeper_notices(insertions: pd.DataFrame, kept_off: Collection[str] = ()) -> tuple[Notice, ...]:
    """Tell at how many stations a further hard layer lies below the pan that was taken.

    A caution where one begins no deeper than ``second_top_max_cm``, where pans are usual; a note
    where all begin deeper, where stiff subsoil is as likely.

    Parameters
    ----------
    insertions
        Rows of `zoning.profiles.interpret`.
    kept_off
        Stations about which nobody may dig, for a hazard.
    """
    shown = insertions[insertions["verdict"].isin(PAN)]
    further = shown[shown["deeper_cm"].notna()]
    if further.empty:
        return ()
    low, high = (f"{value:.0f}" for value in further["deeper_cm"].agg(["min", "max"]))
    text = _TEXT.format(
        stations=_of(further["station"].nunique(), shown["station"].nunique()),
        where=low if low == high else f"{low} to {high}",
        names=some_names(further["station"]),
    )
    text += _dig(set(further["station"]), kept_off)
    dry = further.loc[further["moisture"].astype(str).str.lower().eq("dry"), "station"].nunique()
    text += _DRY.format(count="all" if dry == further["station"].nunique() else dry) if dry else ""
    usual = bool((further["deeper_cm"] <= rule("second_top_max_cm")).any())
    return (Notice("caution" if usual else "note", "further-hard-layer", text),)


def _dig(stations: set[str], kept_off: Collection[str]) -> str:
    """Return where to dig, and where nobody may."""
    near = joined(sorted(stations.intersection(kept_off)))
    if not near:
        return f"Dig there {_TO_SEE}."
    if stations <= {*kept_off}:
        return f"Do not dig there {_TO_SEE}: {_KEPT_OFF}."
    return f"Dig there {_TO_SEE}, but not at {near}: {_KEPT_OFF}."


def _of(count: int, every: int) -> str:
    if every == 1:
        return "the one cone station that shows"
    return f"{count} of {every} cone stations that show"
