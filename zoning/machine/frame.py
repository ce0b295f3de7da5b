"""Setting the machine: what a frame off level does, which pin gives which depth."""

from __future__ import annotations

import math

from zoning.machine.findings import Finding
from zoning.machine.geometry import legs
from zoning.model.settings import MachineSection


def tilt_error_cm(distance_cm: float, tilt_deg: float) -> float:
    """Return the depth difference over a distance along a frame off level [cm].

    Distance x tan(angle): trigonometry, for angles below 45 degrees.

    Raises
    ------
    ValueError
        If the angle is 45 degrees or more.
    """
    if not abs(tilt_deg) < 45:
        raise ValueError(f"a frame {tilt_deg} degrees off level is no working position")
    return distance_cm * math.tan(math.radians(tilt_deg))


def frame_findings(machine: MachineSection) -> tuple[Finding, ...]:
    """Return what one degree off level does to this machine, as a note."""
    layout = legs(machine)
    reach_cm = max(leg.behind_cm for leg in layout)
    half_cm = max(leg.across_cm for leg in layout)
    rear, outer = (f"{tilt_error_cm(cm, 1.0):.1f} cm" for cm in (reach_cm, half_cm))
    which = "the outer legs of the V against its point" if machine.frame == "v" else "the rear row"
    along = f"{which} {rear} and, leaning sideways, " if reach_cm > 0 else ""
    text = (
        f"Each degree the frame is off level puts {along}an outer leg {outer} deeper or shallower."
    )
    remedy = "Level it in work, front to back and side to side."
    return (Finding("note", "frame-level", text, remedy, "common_practice"),)


def pin_hole(machine: MachineSection, depth_cm: float) -> int | None:
    """Return the pin hole of a depth, 1 for the shallowest; ``None`` where no hole gives it."""
    if machine.depth_control != "pins":
        return None
    holes = enumerate(machine.settings_cm, start=1)
    return next((hole for hole, cm in holes if math.isclose(cm, depth_cm, abs_tol=1e-6)), None)
