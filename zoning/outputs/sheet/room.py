"""How much of the first page is left for the map, and whether the table of zones has room there.

The template fits the map to what is left; this reckons beforehand how much that will be, so that
the map is drawn at that size with its letters at theirs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from zoning.contracts import constant
from zoning.model import Plan
from zoning.outputs.drawing.plan import drawing_height_mm
from zoning.outputs.drawing.zone_labels import small_numbers

RULES = "sheet_rules"
_STANDING_WORDS = 110  # letters of the words under every table of zones


def zone_columns(plan: Plan) -> int:
    """Return in how many tables beside each other the zones are set, at most."""
    return 1 if len(plan.zones) <= constant(RULES, "zones_in_full") else 3


def map_height_mm(plan: Plan, facts: Mapping[str, Any]) -> tuple[float, bool]:
    """Return the height of the map, and whether the table of zones has room beneath it.

    Parameters
    ----------
    plan
        The plan.
    facts
        ``bars, assumed, cautions, cautions_first, hazards, hazards_ask, ground_notes`` above and
        below the map, ``why_guessed, why_held_back, why_less_sure, why_small, totals`` below the
        table.
    """
    few = len(plan.zones) <= constant(RULES, "zones_a_column")
    unsaid = 1 if few else 2
    room = _room_mm(facts) - unsaid * constant(RULES, "line_mm")
    table = _table_mm(plan, facts)
    if few:
        return room - table, True
    needed = drawing_height_mm(plan, constant(RULES, "map_width_mm"), room)
    first = constant(RULES, "map_least_share") * needed + table <= room
    return (room - table if first else room), first


def _room_mm(facts: Mapping[str, Any]) -> float:
    """Return the height left under head and cautions and over the words below the map."""
    banners = [words for words in (*facts["bars"], facts["assumed"]) if words]
    cautions = facts["cautions"][: facts["cautions_first"]]
    notes = ["; ".join(facts["hazards"]) + facts["hazards_ask"], facts["ground_notes"]]
    below = _lines(notes, "note_letters")
    return (
        constant(RULES, "page_mm")
        - len(banners) * constant(RULES, "banner_edge_mm")
        - _lines(banners, "banner_letters") * constant(RULES, "line_mm")
        - _lines(cautions, "caution_letters") * constant(RULES, "line_mm")
        - len(cautions) * constant(RULES, "caution_gap_mm")
        - below * constant(RULES, "line_mm")
    )


def _table_mm(plan: Plan, facts: Mapping[str, Any]) -> float:
    rows = len(plan.zones) - len(small_numbers(plan.zones))
    if zone_columns(plan) == 1:
        return constant(RULES, "zone_line_mm") * (rows + 3)
    marks = facts["why_guessed"] + facts["why_held_back"] + facts["why_less_sure"]
    told = marks + facts["why_small"] + facts["totals"] + " " * _STANDING_WORDS
    rows_high = math.ceil(rows / zone_columns(plan)) + 1
    words_high = _lines([told], "note_letters") + 1
    return (rows_high + words_high) * constant(RULES, "zone_line_close_mm")


def _lines(texts: Sequence[str], letters: str) -> int:
    """Return how many lines texts take, each from a line of its own on."""
    return sum(math.ceil(len(text) / constant(RULES, letters)) for text in texts)
