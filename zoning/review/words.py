"""Words of the trade for what the record holds."""

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


def verdict_said(verdict: str, so_far: str = "") -> str:
    """Return a verdict of a check in words; one of another version as it stands."""
    known = {verdict, so_far} <= set(VERDICTS)
    return verdict_words(verdict, so_far) if known else verdict.replace("_", " ")
