"""``map.html`` of a check: map, chart, advice and tables in one page that asks for nothing.

The page runs no script and loads nothing; its style is named by its hash in the content security
policy, and all text of the user's is escaped.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

import numpy as np
import pandas as pd

from zoning.contracts import constant
from zoning.model import Notice
from zoning.model.check import JUDGED, Check
from zoning.outputs.check.chart import ridge_chart
from zoning.outputs.check.drawing import RULES, check_drawing
from zoning.outputs.check.key import check_key
from zoning.outputs.check.style import STYLE
from zoning.outputs.check.tables import (
    Row,
    area_words,
    cm,
    compared_tables,
    dig_section,
    planned,
    stopped_zones,
    table,
    zone_words,
)
from zoning.outputs.check.words import (
    DIG,
    LEFT,
    STOPS,
    VERDICTS,
    WHICH_PLAN,
    by_eye_words,
    group_words,
    head_words,
    more_words,
    of_words,
    passed_words,
    places_words,
    shown_changes,
    stops,
    told_advice,
    uncounted_words,
    which_plan,
    why_words,
)
from zoning.outputs.cleared import not_cleared_words
from zoning.outputs.fingerprint import short_id
from zoning.outputs.left_out import left_out_together
from zoning.units import as_number, tenths


def check_page(check: Check) -> str:
    """Return the page of a check, the same text for the same check."""
    name = escape(check.settings.field.name)
    digest = base64.b64encode(hashlib.sha256(STYLE.encode("utf-8")).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="color-scheme" content="light">',
            f"<title>{name}: check of the work, plan {short_id(check.plan_id)}</title>",
            f"<style>{STYLE}</style></head><body>",
            f"<header><div><h1>{name}</h1><p>{_about(check)}</p></div>",
            f'<p class="plate">Plan <strong>{short_id(check.plan_id)}</strong></p></header>',
            _stops(check),
            _strip(check),
            f"<main>{''.join(_sections(check))}</main></body></html>\n",
        ]
    )


def _about(check: Check) -> str:
    season = check.settings.field.season
    told = f", season {season}" if season is not None else ""
    return f"Check of the work by the pits dug behind the machine{told}"


def _stops(check: Check) -> str:
    """Return all that asks to stop, whole and in sight before anything else."""
    lines = "".join(f"<p>{escape(text)}</p>" for text in stops(check))
    return f'<aside class="stop" aria-label="Stop">{lines}</aside>' if lines else ""


def _strip(check: Check) -> str:
    """Return the lines that stay in sight: what is not cleared, and the first caution.

    The first caution opens all that do not stand at the top already; on paper the list stands in
    its place. On a narrow screen a caution, which may be long, is not held in sight.
    """
    on_top = (*STOPS, *WHICH_PLAN)
    cautions = [n.text for n in check.notices if n.level == "caution" and n.code not in on_top]
    band = _band(not_cleared_words(check.zones, check.settings))
    first = _first_words(check, cautions)
    kind = "warn stopped" if stops(check) else "warn"
    if not cautions:
        told = band + (f'<p class="first">{first}</p>' if first else "")
        return f'<aside class="{kind}" aria-label="Cautions">{told}</aside>' if told else ""
    listed = _list(cautions)
    many = "" if len(cautions) == 1 else "s"
    return (
        f'<aside class="{kind}" aria-label="Cautions">{band}<details><summary>'
        f"<strong>{escape(first)}</strong> <span>{len(cautions)} caution{many}</span>"
        f'</summary><div class="all" tabindex="0" role="group" aria-label="All cautions">{listed}'
        f'</div></details><div class="on-paper"><h2>Cautions</h2>{listed}</div></aside>'
    )


def _first_words(check: Check, cautions: list[str]) -> str:
    """Return the line that stands first: how much asks to stop, else the first caution, if any."""
    count = len(stops(check))
    many = "" if count == 1 else "s"
    told = [f"STOP: {count} reason{many}, at the top of the page"] if count else cautions[:1]
    return "".join(told)


def _band(words: str) -> str:
    return f'<p class="held">{escape(words)}</p>' if words else ""


def _sections(check: Check) -> Iterable[str]:
    yield _verdict(check)
    yield _section("Map", _map(check))
    yield _section("What to do, the least costly first", _advice(check))
    yield _section("Ground by depth and part", _groups(check))
    yield _section("Pits", _pits(check))
    yield _section("Where to dig next", dig_section(check))
    yield _section("Ridge between legs and speed", _ridge(check))
    yield _section("Before and after", _changes(check))
    yield _section("Zones with pits", _zones(check))
    yield _section("Left out", _left_out(check))
    yield _section("Notes", _list([n.text for n in check.notices if _among_notes(n)]))


def _map(check: Check) -> str:
    """Return the map, one for wide screens and paper and one for narrow ones, and their key."""
    size = [constant(RULES, name) for name in ("map_width_mm", "map_height_mm")]
    narrow = [constant(RULES, name) for name in ("phone_width_mm", "phone_height_mm")]
    return (
        '<input type="checkbox" id="larger"><label for="larger">Larger map, more depths</label>'
        f'<div class="narrow">{check_drawing(check, *narrow)}</div>'
        '<div class="broad" tabindex="0" role="group" aria-label="Map, can be moved">'
        f'<div class="large"><span class="middle"></span>{check_drawing(check, *size)}</div></div>'
        f"{check_key(check)}"
    )


def _section(title: str, content: str) -> str:
    return f"<section><h2>{title}</h2>{content}</section>" if content else ""


def _verdict(check: Check) -> str:
    field = check.groups.iloc[0].to_dict()
    words = escape(head_words(check))
    more = int(field["more_pits"])
    needed = f" {_further(more)}" if more else ""
    doubt = " Some pits in doubt could turn it." if field["firm"] == "no" else ""
    head = "".join(f"<p>{escape(text)}</p>" for text in which_plan(check))
    return (
        f'<section class="verdict">{head}<p class="word">{words[:1].upper()}{words[1:]}</p>'
        f"<p>{counted(field)}{needed}{doubt} {escape(uncounted_words(check))} "
        f"{escape(by_eye_words(check))}</p>"
        f"{_missed(check.pits)}</section>"
    )


def _further(more: int) -> str:
    """Return how many more pits are needed, or that none help, as a sentence."""
    if more < 0:
        return "Further digging will not settle it."
    return f"{more} further pit is needed." if more == 1 else f"{more} further pits are needed."


def _missed(pits: pd.DataFrame) -> str:
    """Return the names of the pits that count and were not passed; the others are named above."""
    told = [
        f"{VERDICTS[verdict].capitalize()}: {', '.join(own['pit'])}."
        for verdict in LEFT
        if verdict in JUDGED and len(own := pits[pits["verdict"] == verdict])
    ]
    return f"<p>{escape(' '.join(told))}</p>" if told else ""


def counted(facts: Mapping[Any, Any]) -> str:
    """Return the counts of one piece of ground as a sentence, with the interval."""
    text = passed_words(facts)
    if facts["seen_between"]:
        low, high = 100 * as_number(facts["share_low"]), 100 * as_number(facts["share_high"])
        text += (
            f" So between legs it is passed on {low:.0f} to {high:.0f} % of the ground (exact "
            f"{100 * constant('check_rules', 'interval_level'):g} % interval)."
        )
    text += f" {places_words(facts)}".rstrip()
    ridge = as_number(facts["ridge_cm"])
    if np.isfinite(ridge):
        text += f" Ridge {tenths(ridge)} cm: {facts['evenness']}."
    return text


def _advice(check: Check) -> str:
    parts = []
    for where, steps in told_advice(check).groupby("where", sort=False):
        lines = "".join(f"<li>{escape(text)}</li>" for text in steps["text"])
        parts.append(f"<h3>{escape(str(where).capitalize())}</h3><ol>{lines}</ol>")
    return "".join(parts)


def _groups(check: Check) -> str:
    head = (
        "ground",
        "verdict",
        "pits",
        "at the leg",
        "between",
        "share reached",
        "ridge",
        "more pits",
    )
    return table(head, [_group(row) for row in check.groups.to_dict("records")])


def _group(row: Mapping[Any, Any]) -> Row:
    return (
        f"{row['name']}",
        group_words(row),
        f"{row['pits']}",
        of_words(row["passed_at_leg"], row["seen_at_leg"]),
        of_words(row["passed_between"], row["seen_between"]),
        _interval(row),
        cm(row["ridge_cm"]),
        more_words(int(as_number(row["more_pits"]))),
    )


def _interval(row: Mapping[Any, Any]) -> str:
    if not row["seen_between"]:
        return ""
    low, high = (100 * as_number(row[name]) for name in ("share_low", "share_high"))
    return f"{low:.0f} to {high:.0f} %"


def _ridge(check: Check) -> str:
    chart = ridge_chart(check)
    if not chart:
        return ""
    slowest = check.ridge.slowest_even_km_h
    if check.ridge.speeds.empty:
        # What to drive is said by the advice alone: it knows what is cleared and what is in reach.
        asked = (check.advice["step"] == "speed").any()
        words = f"No trial runs.{' What to do next about the speed stands above.' if asked else ''}"
    elif slowest is None:
        words = "No speed tried was even with a level surface."
    else:
        words = (
            f"Slowest speed tried that is even: {slowest:g} km/h. The next plan, at "
            f"{check.settings.machine.speed_km_h:g} km/h, adds {check.ridge_allowance_cm:g} cm for "
            "the ridge, once."
        )
    what = "The ridge is the depth at the leg less that between legs."
    return f'<p>{what} {words}</p><div class="chart">{chart}</div>'


def _changes(check: Check) -> str:
    told = "".join(f"<p>{escape(words)}</p>" for words in shown_changes(check))
    return told + compared_tables(check)


def _pits(check: Check) -> str:
    head = ("pit", "verdict", "zone", "planned", "at the leg", "between", "speed", "why")
    body = [
        (
            str(pit["pit"]),
            VERDICTS[str(pit["verdict"])],
            str(pit["zone"]),
            planned(pit["depth_cm"]),
            cm(pit["loosened_at_leg_cm"]),
            cm(pit["loosened_between_cm"]),
            f"{pit['speed_km_h']:g} km/h" if np.isfinite(pit["speed_km_h"]) else "",
            why_words(str(pit["reason"])),
        )
        for pit in check.pits.to_dict("records")
    ]
    return table(head, body) if body else ""


def _zones(check: Check) -> str:
    dug = (check.zones["pits"] > 0) | check.zones["zone"].isin(stopped_zones(check))
    held = check.zones[dug]
    head = (
        "zone",
        "depth",
        "ha",
        "verdict",
        "pits",
        "at the leg",
        "between",
        "share reached",
        "more pits",
    )
    body = [
        (
            str(row["zone"]),
            planned(row["depth_cm"]),
            area_words(float(row["area_ha"])),
            zone_words(check, row),
            str(row["pits"]),
            of_words(row["passed_at_leg"], row["seen_at_leg"]),
            of_words(row["passed_between"], row["seen_between"]),
            _interval(row),
            more_words(int(row["more_pits"])),
        )
        for row in pd.DataFrame(held.drop(columns="geometry")).to_dict("records")
    ]
    return table(head, body) if body else ""


def _left_out(check: Check) -> str:
    body = [(one.file, one.what, one.reason) for one in left_out_together(check.inputs.left_out)]
    return table(("where", "what", "why"), body) if body else ""


def _among_notes(notice: Notice) -> bool:
    return notice.level == "note" and notice.code not in DIG


def _list(texts: Iterable[str]) -> str:
    lines = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<ul>{lines}</ul>" if lines else ""
