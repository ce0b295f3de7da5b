"""Pits against the probe at the same place: what they found, and what it would change."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import comb

import numpy as np
import pandas as pd

from zoning import profiles
from zoning.contracts import constant
from zoning.model import Notice
from zoning.model.names import in_numbers
from zoning.workflow.disagree import named
from zoning.workflow.evidence_notices import PITS_AGAINST


def met(stations: pd.DataFrame) -> pd.DataFrame:
    """Return the pits that stand where the probe answered too, with what each of them found.

    Parameters
    ----------
    stations
        Cone stations and pits, as `zoning.profiles.join_stations` gives them.

    Returns
    -------
    DataFrame
        ``station, pit, probe_pan, pit_pan`` and ``deeper_cm``, how much deeper the base lies in
        the pit [cm]: NaN where one of them shows none, 0 where the probe gives a bound less deep.
    """
    cone = stations[(stations["kind"] == "cone") & (stations["n_known"] > 0)]
    pits = stations[stations["kind"] == "pit"]
    over = profiles.outranked(cone, pits)
    cone, over = cone[over != ""], over[over != ""]
    dug = pits.drop_duplicates("station").set_index("station").reindex(over)
    deeper = dug["pan_base_cm"].to_numpy(dtype=float) - cone["pan_base_cm"].to_numpy(dtype=float)
    bound = cone["censored"].to_numpy(dtype=bool) & (deeper > 0)
    return pd.DataFrame(
        {
            "station": cone["station"].to_numpy(),
            "pit": over.to_numpy(),
            "probe_pan": _shows_pan(cone).to_numpy(),
            "pit_pan": (dug["n_pan"] > 0).to_numpy(),
            "deeper_cm": np.where(bound, 0.0, deeper),
        }
    )


def _shows_pan(cone: pd.DataFrame) -> pd.Series:
    return (cone["n_pan"] > 0) & cone["verdict"].ne("no_pan")


@dataclass(frozen=True, slots=True)
class _Alone:
    """How many stations the probe alone speaks for: with a pan, without one, with a base read."""

    pan: int
    none: int
    base: int


def _alone(stations: pd.DataFrame, both: pd.DataFrame) -> _Alone:
    cone = stations[(stations["kind"] == "cone") & (stations["n_known"] > 0) & stations["used"]]
    cone = cone[~cone["station"].isin(both["station"])]
    pan = _shows_pan(cone)
    return _Alone(
        pan=int(pan.sum()),
        none=int((~pan).sum()),
        base=int((pan & cone["pan_base_cm"].notna()).sum()),
    )


def pit_notices(stations: pd.DataFrame) -> tuple[Notice, ...]:
    """Return a caution where pits found otherwise than the probe at the same place.

    It tells what would be otherwise elsewhere if the pits are right, that the plan keeps the probe
    there, and how many more pits would settle it: see `more_pits`.

    Parameters
    ----------
    stations
        As `met` takes them, with ``used``.
    """
    both = met(stations)
    alone = _alone(stations, both)
    told = [*_presence(both, alone), *_bases(both, alone.base)]
    if not told:
        return ()
    times = "1 place" if len(both) == 1 else f"{len(both)} places"
    text = f"Pit and probe at the same place: {times}. {' '.join(told)}"
    return (Notice("caution", PITS_AGAINST, text),)


def more_pits(against: int, dug: int) -> int:
    """Return how many more pits, all against the probe, would show it wrong at most places.

    The sign test, one-sided: of ``n`` pits that speak against the probe with probability 1/2, as
    many or more do so with probability ``sum(C(n, i), i >= against) / 2^n``; that must be no more
    than ``1 - pits_against_confidence``. Source:
    Conover W.J., Practical Nonparametric Statistics, 3rd edition, 1999 (from memory).

    Parameters
    ----------
    against
        Pits against the probe.
    dug
        Pits where the probe answered too.
    """
    chance, more = 1.0 - constant("plan_rules", "pits_against_confidence"), 0
    while _as_many(against + more, dug + more) > chance:
        more += 1
    return more


def _as_many(count: int, of: int) -> float:
    """Return the probability of `count` or more heads in so many throws of a coin."""
    return sum(comb(of, i) for i in range(count, of + 1)) / 2.0**of


def _presence(both: pd.DataFrame, alone: _Alone) -> Iterator[str]:
    found = both["probe_pan"], both["pit_pan"]
    only_probe, only_pit = both[found[0] & ~found[1]], both[~found[0] & found[1]]
    if len(only_probe):
        right = f"no pan at {_others(alone.pan, 'with a pan by the probe')}" if alone.pan else ""
        yield (
            f"A pan by the probe, none in the pit: {len(only_probe)} ({_places(only_probe)}). What "
            "the probe felt may be no pan"
            f"{_if_right(right, len(only_probe), len(both), 'before loosening')}"
        )
    if len(only_pit):
        right = f"a pan at {_others(alone.none, 'without one by the probe')}" if alone.none else ""
        yield (
            f"A pan in the pit, none by the probe: {len(only_pit)} ({_places(only_pit)}). The "
            "probe may miss a pan elsewhere too"
            f"{_if_right(right, len(only_pit), len(both), 'before ground is left out')}"
        )


def _bases(both: pd.DataFrame, alone: int) -> Iterator[str]:
    least = constant("plan_rules", "pit_probe_base_cm")
    signed = (("deeper", both["deeper_cm"]), ("shallower", -both["deeper_cm"]))
    rows = {word: both.assign(off=off)[off >= least] for word, off in signed}
    rows = {word: off for word, off in rows.items() if len(off)}
    if not rows:
        return
    told = [
        f"{word} by {_range(off['off'])} cm at {len(off)} ({_places(off)})"
        for word, off in rows.items()
    ]
    word, most = max(rows.items(), key=lambda entry: len(entry[1]))
    right = (
        f"the base about {most['off'].median():.0f} cm {word} at {_others(alone, 'that read one')}"
        if len(rows) == 1 and alone
        else ""
    )
    known = int(both["deeper_cm"].notna().sum())
    yield (
        f"Base in the pit {', '.join(told)}. Elsewhere the probe alone tells the depth"
        f"{_if_right(right, len(most), known, 'before a depth is set')}"
    )


def _others(count: int, which: str) -> str:
    return f"the other station {which}" if count == 1 else f"the {count} other stations {which}"


def _if_right(right: str, against: int, dug: int, before: str) -> str:
    """Return how a sentence ends: what the pits would change, and what to dig before work."""
    if not right:
        return f": dig more {before}."
    more, sure = more_pits(against, dug), 100 * constant("plan_rules", "pits_against_confidence")
    settle = (
        f"beside {more} more of them {before}: all against the probe, they would outweigh it"
        if more
        else f"beside more of them {before}: {against} of {dug} pits outweigh the probe already"
    )
    return (
        f". If the pits are right there too: {right}; the plan keeps the probe there. Dig {settle} "
        f"(sign test, {sure:.0f} %)."
    )


def _range(values: pd.Series) -> str:
    low, high = (f"{value:.0f}" for value in values.agg(["min", "max"]))
    return low if low == high else f"{low} to {high}"


def _places(rows: pd.DataFrame) -> str:
    pairs = zip(rows["pit"], rows["station"], strict=True)
    return named(sorted((f"{pit} at {station}" for pit, station in pairs), key=in_numbers))
