"""Names in the order in which a person counts them."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pandas as pd


def in_numbers(text: str) -> list[tuple[int, int, str]]:
    """Return a key that sorts ``L9`` before ``L10``."""
    return list(_tokens(text))


def _tokens(text: str) -> Iterator[tuple[int, int, str]]:
    for token in re.findall(r"[0-9]+|[^0-9]+", text):
        yield (0, int(token), "") if token.isdecimal() else (1, 0, token.casefold())


def by_name(rows: pd.DataFrame, name: str, *then: str) -> pd.DataFrame:
    """Return `rows` in the order of the column `name`, as counted, then of the columns `then`."""
    ordered = rows.sort_values([name, *then], kind="stable")
    keys = [in_numbers(str(text)) for text in ordered[name]]
    return ordered.iloc[sorted(range(len(keys)), key=keys.__getitem__)]
