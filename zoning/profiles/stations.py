"""Insertions to stations: one place, one answer, with its count, its spread and its error."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from zoning.profiles.clean import Flags, Numbers
from zoning.profiles.combine import Base, Bases, combine, set_aside, shrunk_sd_cm, tolerance_cm
from zoning.profiles.pits import findings, outranked, pit_stations, several_days
from zoning.profiles.rules import rule
from zoning.profiles.verdicts import CENSORED, PAN

COLUMNS = (
    "station", "kind", "x_m", "y_m", "lon", "lat", "date", "part", "n_insertions", "n_pan",
    "n_known", "verdict", "pan_top_cm", "pan_base_cm", "base_spread_cm", "error_sd_cm", "censored",
    "used", "reason",
)  # fmt: skip
_PLACE = ("x_m", "y_m")
ANSWERS = (*PAN, "no_pan")
NO_BASE = Base(float("nan"), float("nan"), 0, censored=False)


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """The insertions of one station, in the order of their names."""

    station: str
    verdict: list[str]
    reason: list[str]
    date: list[str]
    part: list[str]
    place: Numbers
    step_cm: Numbers
    top_cm: Numbers
    base_cm: Numbers
    censored: Flags

    @property
    def pan(self) -> Flags:
        """Which insertions show a pan."""
        return np.array([verdict in PAN for verdict in self.verdict])

    @property
    def n_known(self) -> int:
        """How many insertions say whether there is a pan."""
        return sum(verdict in ANSWERS for verdict in self.verdict)

    @property
    def reached_cm(self) -> Numbers:
        """Bases that were reached [cm]."""
        return self.base_cm[self.pan & ~self.censored]

    @property
    def reach_m(self) -> float:
        """Diagonal of the box round the insertions [m]."""
        return float(np.hypot(*np.ptp(self.place[:, :2], axis=0)))


def join_stations(
    insertions: pd.DataFrame, pits: pd.DataFrame, *, outvoted: Collection[str] = ()
) -> pd.DataFrame:
    """Join repeated insertions to stations and put the pits beside them.

    Parameters
    ----------
    insertions
        Rows of `zoning.profiles.interpret`.
    pits
        One row a pit: ``shared/schemas/pits.schema.json``. Those of phase ``after`` are left out.
    outvoted
        Names of pits that outrank no probe, since the readings about them say otherwise.

    Returns
    -------
    DataFrame
        One row a cone station and one a pit, sorted by kind and name:
        ``shared/schemas/stations.schema.json``. `error_sd_cm` is the standard error of the base of
        the station: the spread between insertions of this data set over the root of their number,
        with what the depth step leaves unknown (rules in ``shared/tables/profile_rules.csv``).
    """
    dug = pit_stations(pits)
    probed = _cone_stations(_groups(insertions))
    telling = dug[~dug["station"].isin(outvoted)]
    over = outranked(probed, telling, days=several_days(probed))
    said = over["pit"].ne("") & probed["used"]
    note = _outranked_words(probed, over, findings(pits))
    probed["reason"] = probed["reason"].where(~said, probed["reason"] + note)
    probed["used"] &= ~said
    tables = [table for table in (probed, dug) if len(table)]
    both = pd.concat(tables, ignore_index=True) if tables else probed
    ordered = both.sort_values(["kind", "station", "x_m", "y_m"], kind="stable")
    return ordered[list(COLUMNS)].reset_index(drop=True)


def _outranked_words(probed: pd.DataFrame, over: pd.DataFrame, found: pd.Series) -> list[str]:
    """Return what is said of each station that a pit outranks: what both of them found."""
    told = probed["pan_base_cm"].isna() | probed["censored"]  # a bound stands in the reason itself
    read = [
        "" if said else f" Base read: {base:.0f} cm."
        for base, said in zip(probed["pan_base_cm"], told, strict=True)
    ]
    what = np.where(over["base"], "Its base is not used", "Not used")
    still = np.where(over["base"], " That both show a pan counts.", "")
    return [
        f"{base} {left}: pit {pit} stands at the same place and outranks it: "
        f"{found.get(pit, '')}.{more}"
        for base, left, pit, more in zip(read, what, over["pit"], still, strict=True)
    ]


def told_apart(insertions: pd.DataFrame) -> pd.DataFrame:
    """Return the insertions, the reason of those whose station lies apart saying so."""
    groups = insertions.groupby("station")
    width, height = (groups[c].transform("max") - groups[c].transform("min") for c in _PLACE)
    apart = np.hypot(width, height)
    said = apart > rule("station_place_tolerance_m")
    words = [f" The insertions of its station lie up to {span:.0f} m apart." for span in apart]
    told = [
        f"{reason}{more}".strip() if far else reason
        for reason, more, far in zip(insertions["reason"], words, said, strict=True)
    ]
    return insertions.assign(reason=pd.Series(told, index=insertions.index, dtype=object))


def _groups(insertions: pd.DataFrame) -> list[Group]:
    """Return the insertions of each station, stations by name."""
    rows = insertions.sort_values(["station", "insertion_id"], kind="stable")
    texts = {name: rows[name].tolist() for name in ("verdict", "reason", "date", "part")}
    place = rows[["x_m", "y_m", "lon", "lat"]].to_numpy(float)
    step, top, base = (
        rows[name].to_numpy(float) for name in ("step_cm", "pan_top_cm", "pan_base_cm")
    )
    censored = rows["censored"].to_numpy(bool)
    sizes = rows.groupby("station", sort=True).size()
    ends = np.cumsum(sizes.to_numpy())
    return [
        Group(
            station=str(name),
            verdict=texts["verdict"][cut],
            reason=texts["reason"][cut],
            date=texts["date"][cut],
            part=texts["part"][cut],
            place=place[cut],
            step_cm=step[cut],
            top_cm=top[cut],
            base_cm=base[cut],
            censored=censored[cut],
        )
        for name, cut in zip(sizes.index, map(slice, ends - sizes.to_numpy(), ends), strict=True)
    ]


def _cone_stations(groups: list[Group]) -> pd.DataFrame:
    """Return one row a cone station."""
    if not groups:
        return pd.DataFrame({name: pd.Series(dtype=kind) for name, kind in _DTYPES.items()})
    tolerance = tolerance_cm([group.reached_cm for group in groups])
    bases = [_bases(group, tolerance) for group in groups]
    sd = shrunk_sd_cm([b.known for b in bases], rule("within_station_sd_cm"))
    pairs = zip(groups, bases, strict=True)
    return pd.DataFrame([_station(group, base, sd) for group, base in pairs])


_DTYPES = (
    dict.fromkeys(("station", "kind", "date", "part", "verdict", "reason"), object)
    | dict.fromkeys(("x_m", "y_m", "lon", "lat", "pan_top_cm", "pan_base_cm"), float)
    | dict.fromkeys(("base_spread_cm", "error_sd_cm"), float)
    | dict.fromkeys(("n_insertions", "n_pan", "n_known"), int)
    | dict.fromkeys(("censored", "used"), bool)
)


def _bases(group: Group, tolerance: float) -> Bases:
    base, bound = group.base_cm[group.pan], group.censored[group.pan]
    return Bases(base, bound, set_aside(base, bound, tolerance))


def _station(group: Group, bases: Bases, sd_cm: float) -> dict[str, object]:
    """Return one row of the stations frame."""
    n_pan, n_known = len(bases.base_cm), group.n_known
    has_pan = n_pan > 0 and n_pan * 2 >= n_known
    own_sd = shrunk_sd_cm([bases.known], sd_cm)
    base = combine(bases, own_sd) if has_pan else NO_BASE
    x_m, y_m, lon, lat = group.place.mean(axis=0)
    return {
        "station": group.station,
        "kind": "cone",
        "x_m": x_m,
        "y_m": y_m,
        "lon": lon,
        "lat": lat,
        "date": min((date for date in group.date if date), default=""),
        "part": most_common(group.part),
        "n_insertions": len(group.verdict),
        "n_pan": n_pan,
        "n_known": n_known,
        "verdict": _verdict(group, base, has_pan=has_pan),
        "pan_top_cm": group.top_cm[group.pan][~bases.aside].mean() if has_pan else np.nan,
        "pan_base_cm": base.base_cm,
        "base_spread_cm": base.spread_cm,
        "error_sd_cm": _error_sd_cm(base, own_sd, group.step_cm),
        "censored": base.censored,
        "used": n_known > 0,
        "reason": _reason(group, bases, base),
    }


def most_common(texts: Iterable[str]) -> str:
    """Return the text that stands most often, blanks aside; the first in the alphabet of equals."""
    counts = Counter(text for text in texts if text)
    return min(counts, key=lambda text: (-counts[text], text), default="")


def _verdict(group: Group, base: Base, *, has_pan: bool) -> str:
    """Return the verdict of a station from those of its insertions and the base made of them."""
    if has_pan and base.censored:
        return most_common(verdict for verdict in group.verdict if verdict in CENSORED)
    if has_pan:
        return "pan"
    verdicts = ("no_pan", "hard_throughout")
    return next((verdict for verdict in verdicts if verdict in group.verdict), "unusable")


def _error_sd_cm(base: Base, sd_cm: float, steps_cm: Numbers) -> float:
    """Return the standard error of a station's base [cm].

    ``sqrt(sd^2 / n + (f step)^2 / 12)``: the step is common to all insertions of a station, so more
    of them do not make it smaller; f is ``step_error_share``. NaN without a base.
    """
    if base.n == 0:
        return float("nan")
    known = steps_cm[np.isfinite(steps_cm)]
    step = rule("step_error_share") * float(np.median(known)) if len(known) else 0.0
    return float(np.sqrt(sd_cm**2 / base.n + step**2 / 12.0))


def _reason(group: Group, bases: Bases, base: Base) -> str:
    """Say what the insertions of a station showed and what was done with them."""
    n_pan, n_known, telling = len(bases.base_cm), group.n_known, len(bases.telling)
    if n_known == 0:
        return _silent(group)
    lone = ", ".join(f"{value:.0f} cm" for value in np.sort(bases.base_cm[bases.aside]))
    range_cm = float(np.ptp(bases.known)) if len(bases.known) else 0.0
    unanswered = len(group.verdict) - n_known
    notes = [
        (True, _shown(n_pan, n_known)),
        (unanswered > 0, f"Without an answer: {unanswered}."),
        (0 < n_pan * 2 < n_known, "Too few for a pan base; the depths seen are set aside."),
        (base.n > 0 and lone != "", f"Set aside as standing alone: {lone}."),
        (base.censored, f"The base lies deeper than {base.base_cm:.0f} cm."),
        (base.n > 0 and telling > 0 and not base.censored, f"Base not reached in {telling}."),
        (range_cm > rule("outlier_cm"), f"Bases differ by {range_cm:.0f} cm: dig a pit here."),
        *_warnings(group),
    ]
    return " ".join(text for holds, text in notes if holds)


def _shown(n_pan: int, n_known: int) -> str:
    if n_known == 1:
        return f"1 insertion shows {'a' if n_pan else 'no'} pan."
    return f"{n_pan} of {n_known} insertions {'shows' if n_pan == 1 else 'show'} a pan."


def _warnings(group: Group) -> list[tuple[bool, str]]:
    """Return what the log of a station contradicts itself in, each with whether it does."""
    apart = group.reach_m > rule("station_place_tolerance_m")
    return [
        (apart, f"Caution: its insertions lie up to {group.reach_m:.0f} m apart."),
        (len(set(group.date) - {""}) > 1, "Probed on more than one date; the first is given."),
        (len(set(group.part) - {""}) > 1, "More than one part was noted; the usual one is given."),
    ]


def _silent(group: Group) -> str:
    """Say why a station has no answer."""
    if "hard_throughout" in group.verdict:
        return "Hard from the top with no base: not a pan by itself. Dig a pit here."
    return " ".join(["No answer.", *sorted(set(group.reason))])
