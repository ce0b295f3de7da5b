"""How many pits to dig yet, in words: why so many, where first, and what each counts for."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from zoning.checks.steps import Step
from zoning.checks.words import pits_named

_GO = {
    "reached": ("reach", "the pan"),
    "too_deep": ("go", "too deep"),
    "leg_only": ("pass", "the pan at the leg only"),
    "not_between": ("leave", "a pan between the legs"),
    "not_reached": ("do", "not reach the pan"),
}
"""What further pits are to do, by what the pits show so far."""


def waiting(pits: pd.DataFrame) -> pd.DataFrame:
    """Return the pits that wait for a date, where no other pit is judged; else none.

    Parameters
    ----------
    pits
        Rows of `zoning.checks.judge_pits`.
    """
    own: pd.DataFrame = pits[pits["earlier"].astype(bool) & pits["of_work"].astype(bool)]
    return own if (pits["verdict"] == "not_judged").all() else own.iloc[:0]


def asked_date(pits: pd.DataFrame) -> Iterator[Step]:
    """Yield that a date is to be settled first, so that nobody digs again what is dug."""
    if len(own := waiting(pits)):
        text = (
            f"Settle a date first: {pits_named(own['pit'].tolist())} wait for it, as the cautions "
            "say. No pit is asked for until then."
        )
        yield Step("look", text)


def asked_pits(facts: pd.Series) -> Iterator[Step]:
    """Yield the step that asks for further pits; none where the verdict stands or none is asked.

    Parameters
    ----------
    facts
        A row of `zoning.checks.judge_groups`.
    """
    more, pits = int(facts["more_pits"]), int(facts["pits"])
    if facts["verdict"] != "cannot_tell":
        return
    if more == 0:
        if facts["group"] == "field" and pits:
            yield Step("dig", "No more pits are asked for: each depth has its verdict; go by them.")
        return
    if more < 0:
        yield Step(
            "dig", "The pits disagree too much for further digging to settle it: look for why."
        )
        return
    so_far = f" ({pits} so far)" if pits else ""
    text = (
        f"{who} disagree. {_settling(facts, more)}"
        if (who := _disagreeing(facts))
        else f"Dig {more} more pit{'' if more == 1 else 's'}{so_far}: that many settle it if they "
        "agree."
    )
    if facts["unseen"] and pits:
        text += f" Begin there: {facts['unseen']}."
    if facts["group"] == "field":
        text += " Each counts for its depth and its part as well."
    yield Step("dig", text)


def _settling(facts: pd.Series, more: int) -> str:
    """Return what would settle pits that disagree: so many more of the kind they were counted for.

    That is `zoning.checks.groups.Tally.more`.
    """
    verb, what = _GO.get(str(facts["so_far"]), _GO["reached"])
    verb += "" if more > 1 else "s" if verb.endswith("e") else "es"
    return (
        f"{more} more that {verb} {what} would settle it; one that goes otherwise may ask for more."
    )


def _disagreeing(facts: pd.Series) -> str:
    """Return which pits partly passed and partly did not, in words; blank where all agree."""
    pits, between = int(facts["pits"]), int(facts["seen_between"])
    if 0 < facts["passed_at_leg"] < facts["seen_at_leg"]:
        return f"The {pits} pits"
    if not 0 < facts["passed_between"] < between:
        return ""
    return f"The {pits} pits" if between == pits else f"The {between} pits seen between the legs"
