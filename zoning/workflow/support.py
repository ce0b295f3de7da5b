"""What the fit of the surface and the size of the field have to tell the user, in words."""

from __future__ import annotations

from collections.abc import Mapping

import shapely
from shapely import MultiPolygon

from zoning.model import Notice

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
