"""What the fit of the surface and the size of the field have to tell the user, in words."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from zoning.contracts import constant
from zoning.model import Notice
from zoning.model.names import in_numbers
from zoning.workflow.disagree import dig_there, named

Report = Mapping[str, float | str | bool | None]
Floats = NDArray[np.float64]


NONE_MET = "no-pan-found"
NO_HEADLAND = (
    "No headland is declared (headland_width_m under [areas]): no ground to turn on is planned, "
    "and where machines turn the pan often lies deeper. Give its width and plan again."
)


def headland_notices(parts: pd.DataFrame) -> tuple[Notice, ...]:
    """Return a note where none of the `parts`, ``kind``, is a headland."""
    if (parts["kind"] == "headland").any():
        return ()
    return (Notice("note", "no-headland", NO_HEADLAND),)


def pan_met(stations: pd.DataFrame) -> bool:
    """Return whether any insertion or pit met a pan; also where none can tell.

    Parameters
    ----------
    stations
        ``n_pan, n_known``, those that are not used as well.
    """
    return bool(stations["n_pan"].gt(0).any() or not stations["n_known"].gt(0).any())


def none_met_notices(
    stations: pd.DataFrame, pan_probability: Floats, *, lift_out: bool
) -> tuple[Notice, ...]:
    """Return the caution on a field where no reading met a pan: why nothing calls for work there.

    Parameters
    ----------
    stations
        As `pan_met` takes them, with ``kind, used``.
    pan_probability
        Probability of a pan at the cells of the field.
    lift_out
        Whether legs may be lifted out.
    """
    if pan_met(stations):
        return ()
    told = stations[stations["used"].astype(bool) & (stations["n_known"] > 0)]
    does = (
        "the legs stay lifted out on the whole field"
        if lift_out
        else "the whole field is worked at the shallowest setting, since lift_out is false"
    )
    chance = 100 * pan_probability.max()
    text = (
        f"No pan was found at {_places(told)}. Nothing that was read calls for work: {does}. A pan "
        f"may lie elsewhere (chance up to {chance:.0f} %, by common experience alone; the "
        "expected loss counts it), but no ground is worked on that: probe or dig where you doubt "
        "it, and plan again."
    )
    return (Notice("caution", NONE_MET, text),)


def _places(told: pd.DataFrame) -> str:
    """Return the places that tell, in words: 1 pit, any of 12 stations and 2 pits."""
    pits = int((told["kind"] == "pit").sum())
    counts = ((len(told) - pits, "station"), (pits, "pit"))
    words = [f"{count} {one}{'s'[: count != 1]}" for count, one in counts if count]
    return ("any of " if len(told) > 1 else "the ") + " and ".join(words)


def support_notices(report: Report, *, met: bool = True) -> tuple[Notice, ...]:
    """Return the cautions that the fit calls for: days, thin support.

    Parameters
    ----------
    report
        That of the fit.
    met
        Whether a pan was met at all: `none_met_notices` tells where none was.
    """
    found = []
    if report.get("days_warning"):
        found.append(Notice("caution", "days-and-places", str(report["days_warning"])))
    if met and report.get("bases_read", 0) == report.get("bases_censored", 0):
        found.append(
            Notice(
                "caution",
                "no-base-read",
                "No reading passed the base of a pan. Depths come from common experience and from "
                "how deep the readings reached: dig pits before you work.",
            )
        )
    return tuple(found)


def doubt_notices(
    no_pan: Iterable[tuple[str, float]], outliers: str, pits: Container[str]
) -> tuple[Notice, ...]:
    """Return a note on stations whose hard layer may be no pan.

    Parameters
    ----------
    no_pan
        Each station with a base, and the probability that it is the base of no pan.
    outliers
        Stations that the likeliest fit sets aside, as its report names them.
    pits
        Names of the pits.
    """
    least, odd = constant("plan_rules", "base_doubted"), outliers.split("; ")
    told = {name: f"{name} ({100 * p:.0f} %)" for name, p in no_pan if p >= least or name in odd}
    if not told:
        return ()
    text = (
        "By what the neighbours show, the hard layer that was read is not the pan, with the "
        f"probability given, at: {named(sorted(told.values(), key=in_numbers))}. The reading "
        f"counts for so much less{dig_there(told, pits)}"
    )
    return (Notice("note", "base-doubted", text),)


def size_notices(boundary: MultiPolygon, width_m: float) -> tuple[Notice, ...]:
    """Return a caution where the machine is wider than the field is across."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(boundary))
    across_m = min(shapely.LineString(corners[i : i + 2]).length for i in range(2))
    if width_m <= across_m:
        return ()
    text = (
        f"The machine is {width_m:.1f} m wide, wider than the field is across ({across_m:.1f} m). "
        "Check legs and leg_spacing_cm."
    )
    return (Notice("caution", "machine-wider-than-field", text),)
