"""Words of the trade and signs for what the record holds."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from zoning.outputs.check.words import VERDICTS, verdict_words

WORDS: Mapping[str, str] = MappingProxyType(
    {
        "before": "before the work",
        "after": "after the work",
        "file": "the field's files",
        "page": "this page",
        "plan": "the plan",
        "check": "the check",
        "map": "the map",
        "device": "the device",
        "typed": "typed in",
        "yes": "yes",
        "no": "no",
        "dry": "dry",
        "friable": "friable",
        "plastic": "plastic",
        "": "",
    }
)

INNER: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "reached": ("M11 2l9 9-9 9-9-9Z", "#9a3300"),
        "too_deep": ("M6 8h10l-5 8Z", "#9a3300"),
        "leg_only": ("M2 11h18l-9 9Z", "#9a3300"),
        "leg_passed": ("M2 11h18l-9 9Z", "#d9b8a6"),
        "not_reached": ("M7.5 7.5l7 7M7.5 14.5l7-7", "none"),
    }
)
"""Verdict to what stands in the diamond of a pit after the work: outline in 22 by 22, and fill."""


def verdict_said(verdict: str, so_far: str = "") -> str:
    """Return a verdict of a check in words; one of another version as it stands."""
    known = {verdict, so_far} <= set(VERDICTS)
    return verdict_words(verdict, so_far) if known else verdict.replace("_", " ")
