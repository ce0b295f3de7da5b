"""Depths in inches beside those in centimetres, on the sheet of a field that was read in inches."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from zoning.contracts import constant
from zoning.model import Plan
from zoning.units import inches

_RULES = "sheet_rules"
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_DEPTHS = re.compile(r"((?:\d+(?:\.\d+)?(?:, |-))*\d+(?:\.\d+)?) cm\b(?! \(|, [\d.]+ in\b)(\)?)")
_WORDS = ("pit", "cautions", "hazards", "checks", "changes", "not_cleared")


def read_in_inches(plan: Plan) -> bool:
    """Return whether the cone was read at steps of an inch: all at such, not all at steps of a cm.

    The steps of both stand in ``shared/tables/sheet_rules.csv``.
    """
    depth_cm = plan.cone["depth_cm"].to_numpy(dtype=np.float64)
    return bool(
        len(depth_cm)
        and _whole(depth_cm / (constant(_RULES, "log_step_in") / inches(1.0)))
        and not _whole(depth_cm / constant(_RULES, "log_step_cm"))
    )


def _whole(steps: np.ndarray[Any, np.dtype[np.float64]]) -> bool:
    return bool((np.abs(steps - np.round(steps)) < constant(_RULES, "log_step_slack")).all())


def also_in_inches(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Return facts of the sheet whose words and trial runs tell depths in inches too."""
    told = {name: _with_inches(facts[name]) for name in _WORDS if name in facts}
    if "trials" in facts:
        rows = [{**row, "look_for": _with_inches(row["look_for"])} for row in facts["trials"]]
        told["trials"] = rows
    if "depths" in facts:
        told["depths"] = [f"{each} / {_inches(each)} in" for each in facts["depths"]]
    return {**facts, **told}


def _with_inches(words: Any) -> Any:
    """Return a text, or each of several, with inches behind every depth that has none."""
    if not isinstance(words, str):
        return [_with_inches(each) for each in words]
    return _DEPTHS.sub(_both, words)


def _both(found: re.Match[str]) -> str:
    told = _inches(found[1])
    if found[2]:  # within brackets already
        return f"{found[1]} cm, {told} in)"
    return f"{found[1]} cm ({told} in)"


def _inches(depths: str) -> str:
    cm_only = depths.removesuffix(" cm")
    return _NUMBER.sub(lambda number: f"{inches(float(number[0])):.1f}", cm_only)
