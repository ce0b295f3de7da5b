"""Tables and lists as text, for the accounts that the commands print."""

from __future__ import annotations

from collections.abc import Sequence

from zoning.model import Notice

_MOST = 12


def table(title: str, rows: Sequence[Sequence[str]]) -> str:
    """Return a title and rows below it, indented, in columns as wide as their widest cell."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    return "\n".join([title, *(f"  {line}" for line in lines)])


def listed(title: str, lines: Sequence[str], mark: str = "- ") -> str:
    """Return a title and a line each below it, indented; nothing where there is no line."""
    return "\n".join([title, *[f"  {mark}{line}" for line in lines]]) if lines else ""


def first(lines: Sequence[str], more: str) -> list[str]:
    """Return the first lines and, in the place of the rest, their number and the words `more`."""
    rest = len(lines) - _MOST
    return [*lines[:_MOST], *([f"and {rest} {more}"] if rest > 0 else [])]


def notice_blocks(notices: Sequence[Notice]) -> list[str]:
    """Return cautions and notes, a block each, blank where there is none."""
    return [
        listed(title, [notice.text for notice in notices if notice.level == level])
        for level, title in (("caution", "Cautions:"), ("note", "Notes:"))
    ]
