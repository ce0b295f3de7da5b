"""Where the map or the plan does not agree with what was noted or read at a place."""

from __future__ import annotations

import math
from collections.abc import Collection, Container, Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from zoning.contracts import NOT_CLEARED, constant
from zoning.model import Notice
from zoning.model.names import in_numbers
from zoning.units import tenths

Floats = NDArray[np.float64]


def base_notices(
    stations: pd.DataFrame,
    depth_cm: Floats,
    cap_cm: Floats,
    held: Sequence[str],
    *,
    clearance_cm: float,
    shallowest_cm: float,
    days: bool = False,
) -> tuple[Notice, ...]:
    """Return a note on the stations where the plan stays above the base read, or goes far below it.

    Parameters
    ----------
    stations
        ``station, kind, pan_base_cm, censored, used``.
    depth_cm, cap_cm
        Working depth at each station, and the deepest setting that the hazards leave there [cm].
    held
        The hazard beside which each station is held up, else "": see `zoning.workflow.held`.
    clearance_cm
        What is worked below the base, the ridge allowance in it [cm].
    shallowest_cm
        Shallowest setting of the machine [cm].
    days
        Whether the bases are those taken, the day of the reading allowed for.
    """
    read = "the base taken (the day allowed for) at" if days else "the base read at"
    beside = dict(zip(stations["station"], held, strict=True))
    above = _above_base(stations, depth_cm, cap_cm)
    own = {name: text for name, text in above.items() if not beside[name]}
    below = _below_base(stations, depth_cm, clearance_cm, shallowest_cm)
    clauses = [f"stays above {read}: {named([*own.values()])}"] if own else []
    if below:
        asks = f"where the clearance asks for {tenths(clearance_cm)} cm"
        clauses.append(f"works far below {read}: {named([*below.values()])}, {asks}")
    texts = []
    if clauses:
        texts.append(
            f"The plan {'; it '.join(clauses)}{dig_there({**own, **below}, pits_of(stations))}"
        )
    if kept := [f"{text} beside {beside[name]}" for name, text in above.items() if beside[name]]:
        texts.append(
            f"Held up by a hazard, the plan stays above {read}: {named(kept)}; there the pan stays."
        )
    return (Notice("note", BASE_NOT_FOLLOWED, " ".join(texts)),) if texts else ()


BASE_NOT_FOLLOWED = "base-not-followed"


def _above_base(stations: pd.DataFrame, depth_cm: Floats, cap_cm: Floats) -> dict[str, str]:
    """Return the stations above whose base the plan stays, by how much, the worst first.

    Ground that a hazard keeps as shallow, or the deepest setting, is told elsewhere.
    """
    base = stations["pan_base_cm"].to_numpy(dtype=np.float64)
    short = base - depth_cm
    free = np.minimum(base, cap_cm) - depth_cm
    least = constant("plan_rules", "above_base_cm")
    rows = np.flatnonzero(stations["used"].to_numpy(dtype=bool) & (free >= least)).tolist()
    names, deeper = stations["station"].tolist(), stations["censored"].to_numpy(dtype=bool)
    order = sorted(rows, key=lambda i: (-round(float(short[i]), 1), in_numbers(names[i])))
    return {
        names[i]: _above(names[i], float(short[i]), float(depth_cm[i]), deeper=deeper[i])
        for i in order
    }


def _below_base(
    stations: pd.DataFrame, depth_cm: Floats, clearance_cm: float, shallowest_cm: float
) -> dict[str, str]:
    """Return the stations far below whose base the plan works, by how much, the worst first.

    A base that lies deeper than was read, or ground that the shallowest setting works, is passed
    over.
    """
    base = stations["pan_base_cm"].to_numpy(dtype=np.float64)
    over = depth_cm - np.maximum(base + clearance_cm, shallowest_cm)
    known = (stations["used"].astype(bool) & ~stations["censored"].astype(bool)).to_numpy()
    rows = np.flatnonzero(known & (over >= constant("plan_rules", "below_base_cm"))).tolist()
    names, below = stations["station"].tolist(), np.round(depth_cm - base, 1)
    order = sorted(rows, key=lambda i: (-below[i], in_numbers(names[i])))
    return {names[i]: f"{names[i]} by {below[i]:.0f} cm" for i in order}


def deepest_under(
    stations: pd.DataFrame, depth_cm: Floats, inserted: pd.Series, inserted_cm: Floats
) -> Floats:
    """Return the deepest work at each station [cm]: at its place, at any insertion of the probe.

    Parameters
    ----------
    stations
        ``station, kind``.
    depth_cm
        Working depth at each station [cm].
    inserted, inserted_cm
        Station of each insertion, and the working depth where it was made [cm].
    """
    deepest = pd.Series(inserted_cm).groupby(inserted.to_numpy()).max()
    own = stations["station"].map(deepest).where(stations["kind"] == "cone")
    return np.fmax(depth_cm, own.to_numpy(dtype=np.float64))


def worked_notices(
    stations: pd.DataFrame,
    depth_cm: Floats,
    pan_probability: Floats,
    *,
    notice_cm: float = math.inf,
) -> tuple[Notice, ...]:
    """Return a note on the stations that are worked although no pan was read there.

    Parameters
    ----------
    stations
        ``station, kind, verdict, pan_base_cm, used``.
    depth_cm
        Deepest work at each station [cm].
    pan_probability
        Probability of a pan at each station, by all the readings.
    notice_cm
        Deepest work that asks for no located services [cm].
    """
    none = stations["used"].astype(bool) & (stations["verdict"] == "no_pan")
    none &= stations["pan_base_cm"].isna() & (depth_cm > 0)
    names, share = stations["station"], pd.Series(pan_probability, index=stations.index)
    deep = pd.Series(depth_cm, index=stations.index)
    held = deep.gt(notice_cm).map({True: f", {NOT_CLEARED}", False: ""})
    told = {
        names[i]: f"{names[i]} ({share[i]:.2f}, {deep[i]:g} cm{held[i]})"
        for i in stations.index[none]
    }
    order = sorted(told, key=in_numbers)
    dug = [told[name] for name in order if name in pits_of(stations)]
    read = [told[name] for name in order if name not in pits_of(stations)]
    at = "at (probability of a pan by all readings, deepest work there)"
    texts = []
    if read:
        texts.append(f"Worked although no pan was read {at}: {named(read)}. Look with the spade.")
    if dug:
        texts.append(
            f"Worked although the pit found no pan {at}: {named(dug)}. A depth holds for the "
            f"ground about a pit as well.{AT_PIT}"
        )
    return (Notice("note", "worked-without-pan", " ".join(texts)),) if texts else ()


def pits_of(stations: pd.DataFrame) -> Container[str]:
    """Return the names of the pits among `stations`, ``station, kind``."""
    return set(stations.loc[stations["kind"] == "pit", "station"])


AT_PIT = (
    " At a pit set the depth by hand, or lift out; or make its ground a named area under [areas], "
    "its name under part of what stands in it, and plan again; or dig two more pits around it."
)
"""What is left to do where a pit was dug already; see `said_once`."""


def dig_there(told: Collection[str], pits: Container[str]) -> str:
    """Return how a sentence on the places `told` ends: nobody digs where a pit was dug already."""
    dug = [name in pits for name in told]
    return ("." if all(dug) else ": dig there.") + (AT_PIT if any(dug) else "")


def said_once(notices: Iterable[Notice]) -> Iterator[Notice]:
    """Yield `notices`, what to do at a pit in the first of them alone that says it."""
    said = False
    for notice in notices:
        told = AT_PIT in notice.text
        yield replace(notice, text=notice.text.replace(AT_PIT, "")) if told and said else notice
        said = said or told


def _above(name: str, short_cm: float, depth_cm: float, *, deeper: bool) -> str:
    if depth_cm == 0:
        return f"{name} (legs lifted out)"
    return f"{name} by {short_cm:.0f} cm{' or more' if deeper else ''}"


def named(told: Sequence[str]) -> str:
    """Return the first few of `told`, and how many more there are."""
    most = int(constant("plan_rules", "named_most"))
    more = f" and {len(told) - most} more" if len(told) > most else ""
    return ", ".join(told[:most]) + more
