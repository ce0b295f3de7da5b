"""A table as text, for the accounts that the commands print."""

from __future__ import annotations

from collections.abc import Sequence


def table(title: str, rows: Sequence[Sequence[str]]) -> str:
    """Return a title and rows below it, indented, in columns as wide as their widest cell."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
    return "\n".join([title, *(f"  {line}" for line in lines)])
