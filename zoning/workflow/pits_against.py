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
from zoning.model.names import by_name, in_numbers
from zoning.workflow.disagree import named
from zoning.workflow.evidence_notices import PIT_ODD, PITS_AGAINST


def met(stations: pd.DataFrame) -> pd.DataFrame:
    """Return the pits that stand where the probe answered too, with what each of them found.

    Parameters
    ----------
    stations
        Cone stations and pits, as `zoning.profiles.join_stations` gives them.

    Returns
    -------
    DataFrame
        ``station, pit, probe_pan, pit_pan``, the bases ``probe_cm, pit_cm`` and ``deeper_cm``, how
        much deeper it lies in the pit [cm]: NaN where one of them shows none, 0 where the probe
        gives a bound less deep.
    """
    cone = stations[(stations["kind"] == "cone") & (stations["n_known"] > 0)]
    pits = stations[stations["kind"] == "pit"]
    over = profiles.at_pit(cone, pits)
    cone, over = cone[over != ""], over[over != ""]
    dug = pits.drop_duplicates("station").set_index("station").reindex(over)
    pit_cm, probe_cm = (each["pan_base_cm"].to_numpy(dtype=float) for each in (dug, cone))
    deeper = pit_cm - probe_cm
    bound = cone["censored"].to_numpy(dtype=bool) & (deeper > 0)
    return pd.DataFrame(
        {
            "station": cone["station"].to_numpy(),
            "pit": over.to_numpy(),
            "probe_pan": _shows_pan(cone).to_numpy(),
            "pit_pan": (dug["n_pan"] > 0).to_numpy(),
            "probe_cm": probe_cm,
            "pit_cm": pit_cm,
            "deeper_cm": np.where(bound, 0.0, deeper),
        }
    )


def places_met(both: pd.DataFrame) -> pd.DataFrame:
    """Return a row for each pit of `both`, as `met` gives it: a place counts once.

    Stations repeated at one pit are against it where most of them are; bases are their medians.
    """
    rows = []
    for pit, here in by_name(both, "station").groupby("pit", sort=True):
        against = (here["probe_pan"] != here["pit_pan"]).mean() > 0.5
        dug = bool(here["pit_pan"].iloc[0])
        medians = here[["probe_cm", "pit_cm", "deeper_cm"]].median()
        station = " and ".join(here["station"])
        rows.append((station, pit, dug != against, dug, *medians))
    return pd.DataFrame(rows, columns=list(both.columns))


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


def pit_notices(stations: pd.DataFrame, day_cm: pd.Series | None = None) -> tuple[Notice, ...]:
    """Return what is to be told where pits found otherwise than the probe at the same place.

    Where at least half of the pits that bear on it are against the probe, the field is in doubt: a
    caution tells what would be otherwise elsewhere if the pits are right, that the plan keeps the
    probe there, and how many more pits would settle it: see `more_pits`. Where most agree, a note
    names the odd places.

    Parameters
    ----------
    stations
        As `met` takes them, with ``used``.
    day_cm
        What the day adds to the base that the probe read at each station, NaN where none is told
        [cm]: it is taken off, as the plan does.
    """
    days = day_cm is not None and bool(day_cm.notna().any())
    if day_cm is not None:
        taken_cm = stations["pan_base_cm"] - day_cm.fillna(0.0)
        stations = stations.assign(pan_base_cm=taken_cm)
    each = met(stations)
    alone, both = _alone(stations, each), places_met(each)
    found = [*_presence(both, alone), *_bases(both, alone.base)]
    grave = [one.doubt() for one in found if one.of_field]
    local = [one.odd() for one in found if not one.of_field]
    times = "1 place" if len(both) == 1 else f"{len(both)} places"
    told = []
    if grave:
        allowed = ", the day of the probe allowed for" if days else ""
        text = f"Pit and probe at the same place: {times}{allowed}. {' '.join(grave)}"
        told.append(Notice("caution", PITS_AGAINST, text))
    if local:
        told.append(Notice("note", PIT_ODD, " ".join(local)))
    return tuple(told)


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


@dataclass(frozen=True, slots=True, eq=False)
class _Against:
    """One way in which pits are against the probe.

    Parameters
    ----------
    rows
        The places, as `places_met` gives them.
    dug
        Places that bear on it, those that agree among them.
    agree
        Places where pit and probe agree.
    doubt_words, odd_words
        How the caution and the note begin.
    right, left
        What would be otherwise at the other stations, nothing where there is none; how many there
        are.
    before
        What has to wait for the spade.
    """

    rows: pd.DataFrame
    dug: int
    agree: int
    doubt_words: str
    odd_words: str
    right: str
    left: int
    before: str

    @property
    def of_field(self) -> bool:
        """Whether the pits against the probe are as many as those that agree, or more."""
        return 2 * len(self.rows) >= self.dug

    def doubt(self) -> str:
        """Return the sentence of the caution."""
        if not self.right:
            return f"{self.doubt_words}: dig more {self.before}."
        return (
            f"{self.doubt_words}. If the pits are right there too: {self.right}; the plan keeps "
            f"the probe there. Dig {self._settle()}"
        )

    def _settle(self) -> str:
        """Return how many more pits, no more than there are stations left."""
        against, more = len(self.rows), more_pits(len(self.rows), self.dug)
        sure = f"(sign test, {100 * constant('plan_rules', 'pits_against_confidence'):.0f} %)."
        if more > self.left:
            them = "it" if self.left == 1 else f"all {self.left} of them"
            return f"beside {them} {self.before}."
        if more:
            return (
                f"beside {more} more of them {self.before}: all against the probe, they would "
                f"outweigh it {sure}"
            )
        return (
            f"beside more of them {self.before}: {against} of {self.dug} pits outweigh the probe "
            f"already {sure}"
        )

    def odd(self) -> str:
        """Return the sentence of the note."""
        places = "place" if self.agree == 1 else "places"
        near = f"{constant('plan_rules', 'pit_odd_near_m'):g} m of "
        near += self.rows["station"].iloc[0] if len(self.rows) == 1 else "each"
        return (
            f"{self.odd_words}; at {self.agree} other {places} both agree. Dig two more pits "
            f"within {near}."
        )


def _presence(both: pd.DataFrame, alone: _Alone) -> Iterator[_Against]:
    found = both["probe_pan"], both["pit_pan"]
    agree = int((found[0] == found[1]).sum())
    rows = both[found[0] & ~found[1]]
    if len(rows):
        yield _Against(
            rows,
            int(found[0].sum()),
            agree,
            f"A pan by the probe, none in the pit: {len(rows)} ({_places(rows)}). What the probe "
            "felt may be no pan",
            f"At {_pits(rows)} the spade found no pan where the probe felt one at "
            f"{_with_base(rows, 'station', 'probe_cm')}",
            f"no pan at {_others(alone.pan, 'with a pan by the probe')}" if alone.pan else "",
            alone.pan,
            "before loosening",
        )
    rows = both[~found[0] & found[1]]
    if len(rows):
        yield _Against(
            rows,
            int((~found[0]).sum()),
            agree,
            f"A pan in the pit, none by the probe: {len(rows)} ({_places(rows)}). The probe may "
            "miss a pan elsewhere too",
            f"At {_with_base(rows, 'pit', 'pit_cm')} the spade found a pan where the probe felt "
            f"none at {named(list(rows['station']))}",
            f"a pan at {_others(alone.none, 'without one by the probe')}" if alone.none else "",
            alone.none,
            "before ground is left out",
        )


def _bases(both: pd.DataFrame, alone: int) -> Iterator[_Against]:
    least = constant("plan_rules", "pit_probe_base_cm")
    signed = (("deeper", both["deeper_cm"]), ("shallower", -both["deeper_cm"]))
    rows = {word: both.assign(off=off)[off >= least] for word, off in signed}
    rows = {word: off for word, off in rows.items() if len(off)}
    if not rows:
        return
    told = ", ".join(
        f"{word} by {_range(off['off'])} cm at {len(off)} ({_places(off)})"
        for word, off in rows.items()
    )
    word, most = max(rows.items(), key=lambda entry: len(entry[1]))
    right = (
        f"the base about {most['off'].median():.0f} cm {word} at {_others(alone, 'that read one')}"
        if len(rows) == 1 and alone
        else ""
    )
    known = int(both["deeper_cm"].notna().sum())
    off = pd.concat(rows.values())
    yield _Against(
        most if right else off,
        known,
        known - len(off),
        f"Base in the pit {told}. Elsewhere the probe alone tells the depth",
        f"Base in the pit {told}",
        right,
        alone,
        "before a depth is set",
    )


def _others(count: int, which: str) -> str:
    return f"the other station {which}" if count == 1 else f"the {count} other stations {which}"


def _pits(rows: pd.DataFrame) -> str:
    return named(sorted(rows["pit"], key=in_numbers))


def _with_base(rows: pd.DataFrame, name: str, base: str) -> str:
    """Return the places by `name`, each with the base read there if one was."""
    pairs = zip(rows[name], rows[base], strict=True)
    return named([f"{at} ({cm:.0f} cm)" if pd.notna(cm) else at for at, cm in pairs])


def _range(values: pd.Series) -> str:
    low, high = (f"{value:.0f}" for value in values.agg(["min", "max"]))
    return low if low == high else f"{low} to {high}"


def _places(rows: pd.DataFrame) -> str:
    pairs = zip(rows["pit"], rows["station"], strict=True)
    return named(sorted((f"{pit} at {station}" for pit, station in pairs), key=in_numbers))
