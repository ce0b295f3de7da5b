"""After the work: was the pan passed, where, how evenly, and what to do about it.

::

    pits -> pits.judge_pits -> groups.judge_zones, judge_groups -> advice.advise
                                                       `-> nextpits.dig_next, dig_notices
    diggable: where one could dig, and the ridge to expect there
    advice: looks (single pits), asked, speed, depth, metal; ran: how the machine ran at a pit
    places: pits at one place count once; ground without a pit holds back the whole field
    trials -> trials.ridge_curve, ridge_allowance_cm, slower_than_tried
    before and after -> pairs.paired -> change.changed, change.day_notices

Names are loaded when they are first used: a plan needs little of this, its trial runs alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from zoning.lazy import loader

if TYPE_CHECKING:
    from zoning.checks.advice import advise
    from zoning.checks.caps import (
        TOUCHED,
        bounded,
        called_by,
        held_name,
        not_held,
        past_caps,
        pit_at,
        stop_words,
    )
    from zoning.checks.change import changed, day_notices
    from zoning.checks.groups import judge_groups, judge_zones
    from zoning.checks.looks import pan_where_lifted, wet_words, worked_where_lifted
    from zoning.checks.nextpits import dig_next, dig_notices
    from zoning.checks.pairs import (
        PIT_MEASURES,
        RESISTANCE,
        comparable,
        further_rows,
        off_missed_strips,
        paired,
        pairs_notices,
        pit_measures,
        pits_of_after,
        resistance,
        shows_work,
    )
    from zoning.checks.pits import judge_pits
    from zoning.checks.ran import charted
    from zoning.checks.slower import tried
    from zoning.checks.speed import speeds_kept
    from zoning.checks.trials import (
        allowance_notices,
        evenness,
        odd_run_notices,
        ridge_allowance_cm,
        ridge_at_cm,
        ridge_curve,
        runs_kept,
        runs_set,
        slower_than_tried,
    )
    from zoning.checks.words import pits_named

_HOMES = {
    "PIT_MEASURES": "pairs",
    "RESISTANCE": "pairs",
    "TOUCHED": "caps",
    "advise": "advice",
    "allowance_notices": "trials",
    "bounded": "caps",
    "called_by": "caps",
    "changed": "change",
    "charted": "ran",
    "comparable": "pairs",
    "day_notices": "change",
    "dig_next": "nextpits",
    "dig_notices": "nextpits",
    "evenness": "trials",
    "further_rows": "pairs",
    "held_name": "caps",
    "judge_groups": "groups",
    "judge_pits": "pits",
    "judge_zones": "groups",
    "not_held": "caps",
    "odd_run_notices": "trials",
    "off_missed_strips": "pairs",
    "paired": "pairs",
    "pairs_notices": "pairs",
    "pan_where_lifted": "looks",
    "past_caps": "caps",
    "pit_at": "caps",
    "pit_measures": "pairs",
    "pits_named": "words",
    "pits_of_after": "pairs",
    "resistance": "pairs",
    "ridge_allowance_cm": "trials",
    "ridge_at_cm": "trials",
    "ridge_curve": "trials",
    "runs_kept": "trials",
    "runs_set": "trials",
    "shows_work": "pairs",
    "slower_than_tried": "trials",
    "speeds_kept": "speed",
    "stop_words": "caps",
    "tried": "slower",
    "wet_words": "looks",
    "worked_where_lifted": "looks",
}

__all__ = [
    "PIT_MEASURES",
    "RESISTANCE",
    "TOUCHED",
    "advise",
    "allowance_notices",
    "bounded",
    "called_by",
    "changed",
    "charted",
    "comparable",
    "day_notices",
    "dig_next",
    "dig_notices",
    "evenness",
    "further_rows",
    "held_name",
    "judge_groups",
    "judge_pits",
    "judge_zones",
    "not_held",
    "odd_run_notices",
    "off_missed_strips",
    "paired",
    "pairs_notices",
    "pan_where_lifted",
    "past_caps",
    "pit_at",
    "pit_measures",
    "pits_named",
    "pits_of_after",
    "resistance",
    "ridge_allowance_cm",
    "ridge_at_cm",
    "ridge_curve",
    "runs_kept",
    "runs_set",
    "shows_work",
    "slower_than_tried",
    "speeds_kept",
    "stop_words",
    "tried",
    "wet_words",
    "worked_where_lifted",
]

__getattr__ = loader(__name__, _HOMES)
