"""What the fit of the surface and the size of the field have to tell the user, in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import shapely
from shapely import MultiPolygon

from zoning.contracts import constant
from zoning.model import Notice
from zoning.outputs.left_out import in_numbers
from zoning.workflow.disagree import named

Report = Mapping[str, float | str | bool | None]


def support_notices(report: Report) -> tuple[Notice, ...]:
    """Return the cautions and notes that the fit calls for: days, odd stations, thin support."""
    found = []
    if report.get("days_warning"):
        found.append(Notice("caution", "days-and-places", str(report["days_warning"])))
    if report.get("outliers"):
        text = (
            f"These stations read far from what their neighbours say and count for less: "
            f"{report['outliers']}. Look at them again, and dig where in doubt."
        )
        found.append(Notice("note", "odd-stations", text))
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


def doubt_notices(no_pan: Iterable[tuple[str, float]], outliers: str) -> tuple[Notice, ...]:
    """Return a note on stations whose hard layer may be no pan and that are not told as odd.

    Parameters
    ----------
    no_pan
        Each station with a base, and the probability that it is the base of no pan.
    outliers
        Stations that are told as odd, as in the report of the fit.
    """
    least, odd = constant("plan_rules", "base_doubted"), outliers.split("; ")
    told = [f"{name} ({100 * p:.0f} %)" for name, p in no_pan if p >= least and name not in odd]
    if not told:
        return ()
    text = (
        "By what the neighbours show, the hard layer that was read is not the pan, with the "
        f"probability given, at: {named(sorted(told, key=in_numbers))}. The reading counts for so "
        "much less: dig there."
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
