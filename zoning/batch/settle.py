"""What has to be settled before a plan is worked, in a few words of the overview page."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

from zoning.batch.rules import rule
from zoning.contracts import NOT_CLEARED
from zoning.contracts import rows as table_rows
from zoning.outputs.bars import STANDING

Row = Mapping[str, Any]


def settle_cell(row: Row) -> str:
    """Return the cell of what can stop a plan and what is to be settled first, the gravest first.

    Nothing in it says that any ground is cleared.
    """
    stops = [f"<strong>{escape(words)}</strong>" for words in stops_of(row)]
    named = _to_settle(caution_codes(row))[: int(rule("overview_settle_most"))]
    many = len(caution_codes(row))
    rest = f"{many} caution{'' if many == 1 else 's'} in the plan"
    told = "".join(f"<li>{words}</li>" for words in (*stops, *map(escape, named), rest))
    return f'<td class="stop"><ul>{told}</ul></td>'


def waits_for_services(row: Row) -> bool:
    """Return whether some of the ground of a field is NOT CLEARED."""
    return "not-cleared" in caution_codes(row)


def caution_codes(row: Row) -> list[str]:
    """Return the codes of the cautions of a plan."""
    return [code for code in str(row["cautions"] or "").split("; ") if code]


def stops_of(row: Row) -> list[str]:
    """Return what stops the work of a plan, in the words of its bars, the gravest first."""
    stop = "STOP BY THE CHECK: see the first caution" if STANDING in caution_codes(row) else ""
    weak = "TRACTOR TOO WEAK" if "machine-cannot-be-pulled" in caution_codes(row) else ""
    held = NOT_CLEARED if waits_for_services(row) else ""
    return [words for words in (stop, held, str(row.get("rating") or ""), weak) if words]


def _to_settle(codes: list[str]) -> list[str]:
    return [line["words"] for line in table_rows("batch_words") if line["code"] in codes]
