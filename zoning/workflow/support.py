"""What the fit of the surface and the size of the field have to tell the user, in words."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence

import pandas as pd
import shapely
from shapely import MultiPolygon

from zoning.contracts import constant
from zoning.model import Notice
from zoning.model.names import in_numbers
from zoning.workflow.disagree import AT_PIT, dig_there, named

Report = Mapping[str, float | str | bool | None]


NO_HEADLAND = (
    "No headland is declared (headland_width_m under [areas]): no ground to turn on is planned, "
    "and where machines turn the pan often lies deeper. Give its width and plan again."
)


def headland_notices(parts: pd.DataFrame) -> tuple[Notice, ...]:
    """Return a note where none of the `parts`, ``kind``, is a headland."""
    if (parts["kind"] == "headland").any():
        return ()
    return (Notice("note", "no-headland", NO_HEADLAND),)


def support_notices(report: Report, pits: Container[str]) -> tuple[Notice, ...]:
    """Return the cautions and notes that the fit calls for: days, odd stations, thin support.

    Parameters
    ----------
    report
        That of the fit.
    pits
        Names of the pits: what is asked for at a station was done there.
    """
    found = []
    if report.get("days_warning"):
        found.append(Notice("caution", "days-and-places", str(report["days_warning"])))
    if report.get("outliers"):
        found.append(_odd(str(report["outliers"]).split("; "), pits))
    if report.get("bases_read", 0) == report.get("bases_censored", 0):
        found.append(
            Notice(
                "caution",
                "no-base-read",
                "No reading passed the base of a pan. Depths come from common experience and from "
                "how deep the readings reached: dig pits before you work.",
            )
        )
    return tuple(found)


def _odd(names: Sequence[str], pits: Container[str]) -> Notice:
    dug = [name in pits for name in names]
    text = (
        "These stations read far from what their neighbours say and count for less: "
        f"{'; '.join(names)}."
        f"{'' if all(dug) else ' Look at them again, and dig where in doubt.'}"
        f"{AT_PIT if any(dug) else ''}"
    )
    return Notice("note", "odd-stations", text)


def doubt_notices(
    no_pan: Iterable[tuple[str, float]], outliers: str, pits: Container[str]
) -> tuple[Notice, ...]:
    """Return a note on stations whose hard layer may be no pan and that are not told as odd.

    Parameters
    ----------
    no_pan
        Each station with a base, and the probability that it is the base of no pan.
    outliers
        Stations that are told as odd, as in the report of the fit.
    pits
        Names of the pits.
    """
    least, odd = constant("plan_rules", "base_doubted"), outliers.split("; ")
    told = {
        name: f"{name} ({100 * p:.0f} %)" for name, p in no_pan if p >= least and name not in odd
    }
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
