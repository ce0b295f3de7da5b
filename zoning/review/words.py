"""Words of the trade for what the record holds."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

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
