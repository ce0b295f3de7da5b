"""How many pits to dig yet, in words: why so many, where first, and what each counts for."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from zoning.checks.steps import Step
from zoning.model.check import majority


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
    alike = "go as most have gone" if majority(facts.to_dict()) else "agree from here on"
    text = f"Dig {more} more pit{'' if more == 1 else 's'}{so_far}: that many settle it if they "
    text += (
        f"all {alike}, since those so far do not agree; each that goes otherwise asks for more."
        if _disagree(facts)
        else "agree."
    )
    if facts["unseen"]:
        text += f" Begin where none was dug: {facts['unseen']}."
    if facts["group"] == "field":
        text += " Each counts for its depth and its part as well."
    yield Step("dig", text)


def _disagree(facts: pd.Series) -> bool:
    """Return whether some pits passed and some did not, at the leg or between the legs."""
    leg = 0 < facts["passed_at_leg"] < facts["pits"]
    return bool(leg or 0 < facts["passed_between"] < facts["seen_between"])
