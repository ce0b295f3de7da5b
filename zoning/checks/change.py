"""What few pairs of before and after can honestly say."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from zoning.checks.pairs import PIT_MEASURES, RESISTANCE, THICKNESS
from zoning.checks.rules import rule
from zoning.model import Notice
from zoning.units import off_half

COLUMNS = (
    "by", "what", "pairs", "lifted", "before", "after", "change", "fell", "rose", "same", "test",
    "p_value", "p_least", "words",
)  # fmt: skip
MEASURES = (*PIT_MEASURES, RESISTANCE)
BY_SIGN = ("pan", "structure_score")
_NAMES = {
    "pan": ("share of pits with a pan", 0, " %"),
    THICKNESS: ("thickness of the pan where one is left", 1, " cm"),
    "structure_score": ("structure score", 1, ""),
    "resistance_mpa": ("mean resistance of the worked layer", 2, " MPa"),
}


def sign_test(change: ArrayLike) -> float:
    """Return the two-sided p-value of the exact sign test; pairs without a change say nothing.

    For a yes or no this is the exact test of McNemar. NaN without any change.
    """
    from scipy.stats import binomtest  # noqa: PLC0415 - heavy, and a plan needs none of it

    values = np.asarray(change, dtype=np.float64)
    fell, rose = int((values < 0).sum()), int((values > 0).sum())
    return float(binomtest(fell, fell + rose).pvalue) if fell + rose else float("nan")


def reversal_test(change: ArrayLike) -> float:
    """Return the two-sided p-value of the mean change over every reversal of signs.

    Fisher's test for pairs (The Design of Experiments, 1935, section 21): if the work did nothing,
    before and after could as well be exchanged. Every one of the ``2^n`` exchanges is gone
    through, so the value is exact; NaN without pairs.
    """
    from scipy.stats import permutation_test  # noqa: PLC0415 - as above

    values = np.asarray(change, dtype=np.float64)
    if not len(values):
        return float("nan")
    if len(values) == 1:
        return 1.0
    every = 2 ** len(values)
    done = permutation_test((values,), np.mean, permutation_type="samples", n_resamples=every)
    return float(done.pvalue)


def changed(pairs: pd.DataFrame) -> pd.DataFrame:
    """Return what the pairs say of each measure: ``shared/schemas/check_changes.schema.json``.

    Yes or no and scores take the exact sign test, measurements the exact test by reversal of signs
    up to ``exact_pairs_most`` pairs and the sign test beyond. ``p_least`` is the least p-value
    that so many pairs can give at all: above the level asked for, no result could convince. The
    thickness is told of pairs with a pan before and after: no pan has none, and that it is gone is
    told by ``pan``. Ground where the legs stay lifted was not worked: its pairs are counted as
    ``lifted`` and nowhere else.
    """
    rows = []
    for by in ("place", "zone"):
        for what in MEASURES:
            own = pairs[(pairs["by"] == by) & (pairs["what"] == what)]
            if what == THICKNESS:
                own = own[(own["before"] > 0) & (own["after"] > 0)]
            worked = own[own["depth_cm"] > 0]
            if len(worked):
                rows.append(_change(by, what, worked, lifted=len(own) - len(worked)))
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _change(by: str, what: str, own: pd.DataFrame, *, lifted: int) -> dict[str, Any]:
    change = own["change"].to_numpy(dtype=float)
    fell, rose = int((change < 0).sum()), int((change > 0).sum())
    exact = what not in BY_SIGN and len(own) <= rule("exact_pairs_most")
    telling = len(own) if exact else fell + rose
    row: dict[str, Any] = {
        "by": by,
        "what": what,
        "pairs": len(own),
        "lifted": lifted,
        "before": float(own["before"].mean()),
        "after": float(own["after"].mean()),
        "change": float(change.mean()),
        "fell": fell,
        "rose": rose,
        "same": len(own) - fell - rose,
        "test": "reversal" if exact else "sign",
        "p_value": reversal_test(change) if exact else sign_test(change),
        "p_least": min(1.0, 2.0 ** (1 - telling)),
    }
    words = _words(row)
    if what == RESISTANCE and (wet := _of_the_day(own)):
        words = f"{words} {wet}"
    return row | {"words": words}


def _of_the_day(own: pd.DataFrame) -> str:
    """Return that the moisture differed too, where it did: the line is read without the caution."""
    known = own[(own["moisture_before"] != "") & (own["moisture_after"] != "")]
    differ = known[known["moisture_before"] != known["moisture_after"]]
    if differ.empty:
        return ""
    return f"But moisture differed ({_moistures(differ, known)}): partly the day's, not the work's."


def _words(row: Mapping[str, Any]) -> str:
    name, places, unit = _NAMES[str(row["what"])]
    where = _where(str(row["by"]), int(row["pairs"]))
    scale = 100 if row["what"] == "pan" else 1
    values = {when: off_half(scale * row[when], places) for when in ("before", "after")}
    before, after = (f"{values[when]:.{places}f}{unit}" for when in ("before", "after"))
    text = (
        f"{name.capitalize()}, {where}: {before} before, {after} after; "
        f"fell in {row['fell']}, rose in {row['rose']}.{_left_out(row)}"
    )
    level = rule("test_level")
    if row["p_least"] > level:
        return text
    test = "exact sign test" if row["test"] == "sign" else "exact test over every reversal of signs"
    told = "more than chance explains" if row["p_value"] <= level else "chance can explain it"
    return f"{text} {told.capitalize()}: p {row['p_value']:.2g}, {test}."


def _where(by: str, count: int) -> str:
    """Say what the figures are of; of zones each counts once, however many pits it has."""
    if by == "place":
        return "1 pair at one place" if count == 1 else f"{count} pairs, each at one place"
    if count == 1:
        return "1 zone with both"
    return f"mean of {count} zones with both, each counted once"


def _left_out(row: Mapping[str, Any]) -> str:
    """Return how many were left out because the legs stay lifted there; nothing without any."""
    if not row["lifted"]:
        return ""
    what = "pair" if row["by"] == "place" else "zone"
    many = "" if row["lifted"] == 1 else "s"
    return f" Without {row['lifted']} {what}{many} where the legs stay lifted."


def _moistures(differ: pd.DataFrame, known: pd.DataFrame) -> str:
    """Return how the moisture changed and at how many of the places, or of the zones."""
    by = "place" if (differ["by"] == "place").any() else "zone"
    own = differ[differ["by"] == by]
    of = int((known["by"] == by).sum())
    counts = Counter(zip(own["moisture_before"], own["moisture_after"], strict=True))
    return ", ".join(
        f"{_either(old)} before and {_either(new)} after at {count} of {of} {by}{'s' * (of != 1)}"
        for (old, new), count in sorted(counts.items())
    )


def _either(moisture: str) -> str:
    """Return the moistures of one place, which its readings may not agree on."""
    return moisture.replace("; ", " or ")


def day_notices(pairs: pd.DataFrame) -> tuple[Notice, ...]:
    """Return what dates and moisture mean for the comparison; a dry day reads hard."""
    found = []
    own = pairs[pairs["what"] == RESISTANCE]
    known = own[(own["moisture_before"] != "") & (own["moisture_after"] != "")]
    differ = known[known["moisture_before"] != known["moisture_after"]]
    if len(differ):
        text = (
            f"Cone readings differ by moisture ({_moistures(differ, known)}), and dry "
            "soil reads harder: the change of resistance is partly the day's. Judge by the spade."
        )
        found.append(Notice("caution", "check-moisture-differs", text))
    elif len(own) and len(known) < len(own):
        text = (
            "Moisture was not noted for all cone readings before and after, so a change of "
            "resistance cannot be told from a change of moisture."
        )
        found.append(Notice("caution", "check-moisture-unknown", text))
    days = own[(own["date_before"] != own["date_after"])]
    if len(days) and not found:
        text = (
            "Cone readings before and after are of different days. A dry day reads hard and a wet "
            "one soft, even where the same word was noted for the moisture."
        )
        found.append(Notice("note", "check-days-differ", text))
    return tuple(found)
