"""Words of the trade for what the record holds."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from zoning.outputs.check.words import VERDICTS, verdict_words
from zoning.outputs.drawing.pit_signs import PIT_SIGNS

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


def verdict_said(verdict: str, so_far: str = "", *, pits: int = 0) -> str:
    """Return a verdict of a check in words; one not known as its sign has it, else as it stands."""
    if {verdict, so_far} <= set(VERDICTS):
        return verdict_words(verdict, so_far, pits=pits)
    if verdict in PIT_SIGNS:
        return PIT_SIGNS[verdict].words.partition(": ")[2] or PIT_SIGNS[verdict].words
    return verdict.replace("_", " ")
