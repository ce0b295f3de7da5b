"""Why an insertion has its verdict, in a sentence that an adviser can check against the log."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pandas as pd

from zoning.profiles.rules import rule

# One row of a table, as `DataFrame.itertuples` gives it: its columns are attributes.
Row = Any


def reasons(seen: pd.DataFrame) -> list[str]:
    """Return the reason for each row of `zoning.profiles.verdicts.choose` with its verdict."""
    return [" ".join([_MAIN[str(row.verdict)](row), *_also(row)]) for row in _rows(seen)]


def _rows(seen: pd.DataFrame) -> Iterator[Row]:
    return seen.itertuples()


def _cm(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _pan(row: Row) -> str:
    top = "the surface" if row.pan_top_cm == 0 else _cm(row.pan_top_cm)
    if row.again_cm > 0:
        return (
            f"Hard from {top} to {_cm(row.upper_base_cm)} cm and again from {_cm(row.again_cm)} to "
            f"{_cm(row.pan_base_cm)} cm, softer below: both count as the pan."
        )
    return f"Hard from {top} to {_cm(row.pan_base_cm)} cm, softer below."


def _no_pan(row: Row) -> str:
    return f"No hard layer down to {_cm(row.deepest_cm)} cm that counts as a pan."


def _not_reached(row: Row) -> str:
    tail = "then a stretch without readings" if row.hole else "still hard at the deepest reading"
    return f"Hard from {_cm(row.top_cm)} to {_cm(row.last_hard_cm)} cm, {tail}. {_bound(row)}"


def _refused(row: Row) -> str:
    return (
        f"Hard from {_cm(row.top_cm)} cm, stopped at {_cm(_stop(row))} cm in hard soil "
        f"({_how(row)}). {_bound(row)}"
    )


def _stop(row: Row) -> float:
    """Return where a push stopped in hard soil; one that was eased off there, at its last hard."""
    eased = not row.leapt and row.last_hard_cm < row.deepest_cm
    return float(row.last_hard_cm if eased else row.stop_cm)


def _bound(row: Row) -> str:
    """Say what is known of a base that was not met."""
    known = f"The base lies deeper than {_cm(row.pan_base_cm)} cm."
    if row.leapt:
        known = f"What leaps up below {_cm(row.deepest_cm)} cm may be a stone. {known}"
    if row.pan_base_cm < row.last_hard_cm:
        thick = _cm(rule("pan_thickness_max_cm"))
        return f"{known} A pan is seldom thicker than {thick} cm: below may be firm subsoil."
    return known


def _how(row: Row) -> str:
    if row.refused:
        return "noted as refused"
    if row.trailing:
        return "zeros or blanks after the last reading"
    return f"stopped above {_cm(rule('full_depth_cm'))} cm"


def _throughout(row: Row) -> str:
    hard = f"Hard from {_cm(row.top_cm)} to {_cm(row.deepest_cm)} cm with no base"
    if not row.open:
        base = row.layer_base_cm
        hard = f"Hard from {_cm(row.top_cm)} to {_cm(base)} cm, {_cm(base - row.top_cm)} cm thick"
    return f"{hard}: dry or hard ground rather than a pan. Dig a pit here."


def _unusable(row: Row) -> str:
    if row.n_readings == 0:
        return "No reading above zero: left blank, or zeros alone."
    if row.n_readings < rule("readings_min"):
        return (
            f"Only {row.n_readings} usable readings, no more than "
            f"{_cm(rule('blank_gap_max_cm'))} cm apart; "
            f"{_cm(rule('readings_min'))} are needed."
        )
    if row.unsure_cm > 0:
        return _unsure(row)
    if row.stone_end or row.refused:
        stop = f"Stopped dead at {_cm(row.stop_cm)} cm out of soft soil"
        return f"{stop}: a stone or an obstacle and no pan. It says nothing about a base."
    return (
        f"Ended at {_cm(row.deepest_cm)} cm without a pan, but a pan may lie deeper: "
        f"{_cm(rule('clear_depth_cm'))} cm are needed to say there is none."
    )


def _unsure(row: Row) -> str:
    """Say why deep hard soil is no answer."""
    if row.refused or row.trailing:
        return (
            f"Hard from {_cm(row.unsure_cm)} cm, stopped at {_cm(row.stop_cm)} cm "
            f"({_how(row)}): a deep pan or firm subsoil. Dig a pit here."
        )
    return (
        f"Hard from {_cm(row.unsure_cm)} cm to the end of the push at {_cm(row.deepest_cm)} cm: on "
        f"a {row.part} a pan may lie so deep, or it may be firm subsoil. Dig a pit here."
    )


def _slips(row: Row) -> str:
    depths = ", ".join(_cm(depth) for depth, _ in row.slips)
    return f"Bridged as slips of the log or holes, far below both neighbours: at {depths} cm."


def _stones(row: Row) -> str:
    """Name the stones; `row.stones` are their depths [cm] and heights as shares of the limit."""
    ask = " (harder than a hand pushes: mistyped?)"
    at = [f"{_cm(cm)} cm{ask * (share > rule('hand_most'))}" for cm, share in row.stones]
    return f"Taken out as stones: at {', '.join(at)}."


def _deeper(row: Row) -> str:
    if row.verdict == "no_pan":
        return (
            f"Hard soil begins at {_cm(row.deeper_cm)} cm: taken as subsoil. Dig where a pan so "
            "deep is likely, as in a gateway."
        )
    return f"Another hard layer begins at {_cm(row.deeper_cm)} cm and is no part of the pan."


_MAIN: dict[str, Callable[[Row], str]] = {
    "pan": _pan,
    "no_pan": _no_pan,
    "base_not_reached": _not_reached,
    "refused": _refused,
    "hard_throughout": _throughout,
    "unusable": _unusable,
}


def _also(row: Row) -> list[str]:
    """Return what else was seen and done, a sentence each."""
    clear = row.verdict in ("pan", "no_pan")
    on_stone = row.stone_end or (row.refused and not row.hard_end)
    end = f"The push ended at {_cm(row.stop_cm)} cm"
    done = [
        (len(row.slips) > 0, _slips(row)),
        (row.spikes > 0, _stones(row)),
        (row.bridged > 0, f"Softer stretches bridged: {row.bridged}."),
        (row.thin > 0, f"Hard layers too thin for a pan: {row.thin}."),
        (row.crust_cm > 0, f"Surface crust to {_cm(row.crust_cm)} cm set aside."),
        (row.deeper_cm > 0 and row.verdict != "unusable", _deeper(row)),
        (clear and on_stone, f"{end} on a stone or an obstacle."),
        (clear and row.refused and not on_stone, f"{end} in hard soil."),
        (row.hole and row.verdict != "base_not_reached", "Readings below a gap were not used."),
        (row.repeats > 0, f"Readings at the same depth averaged: {row.repeats}."),
    ]
    return [text for holds, text in done if holds]
