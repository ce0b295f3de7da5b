"""Setting the machine: what a frame off level does, which pin gives which depth, trial speeds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from zoning.contracts import rows
from zoning.machine.findings import Finding
from zoning.machine.geometry import legs
from zoning.model.settings import MachineSection
from zoning.units import inches


@dataclass(frozen=True, slots=True)
class FrameError:
    """Depth differences of a frame off level [cm].

    Parameters
    ----------
    frame_tilt_deg
        Angle off level.
    frame_rear_error_cm
        How much deeper or shallower the hindmost legs run than the foremost, nose up or down; on a
        V these are the outer legs against the point of the V; 0 for one straight row.
    frame_outer_error_cm
        How much deeper or shallower an outer leg runs than the middle of the machine where it leans
        sideways by the same angle.
    """

    frame_tilt_deg: float
    frame_rear_error_cm: float
    frame_outer_error_cm: float


@dataclass(frozen=True, slots=True)
class PinPosition:
    """One working depth and its pin hole.

    Parameters
    ----------
    depth_cm, depth_in
        Working depth in centimetres and inches.
    hole
        Pin hole, 1 for the shallowest; ``None`` where no hole gives this depth or it is set
        hydraulically.
    """

    depth_cm: float
    depth_in: float
    hole: int | None


@dataclass(frozen=True, slots=True)
class TrialSpeed:
    """One trial run: speed [km/h], what to look for, key of the source."""

    speed_km_h: float
    look_for: str
    source: str


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


def frame_error(machine: MachineSection, tilt_deg: float) -> FrameError:
    """Return what a frame `tilt_deg` off level does to the depth of the rear and the outer legs."""
    layout = legs(machine)
    reach_cm = max(leg.behind_cm for leg in layout)
    half_cm = max(leg.across_cm for leg in layout)
    return FrameError(tilt_deg, tilt_error_cm(reach_cm, tilt_deg), tilt_error_cm(half_cm, tilt_deg))


def frame_findings(machine: MachineSection) -> tuple[Finding, ...]:
    """Return what one degree off level does to this machine, as a note."""
    error = frame_error(machine, 1.0)
    rear, outer = (f"{cm:.1f} cm" for cm in (error.frame_rear_error_cm, error.frame_outer_error_cm))
    which = "the outer legs of the V against its point" if machine.frame == "v" else "the rear row"
    along = f"{which} {rear} and, leaning sideways, " if error.frame_rear_error_cm > 0 else ""
    text = (
        f"Each degree the frame is off level puts {along}an outer leg {outer} deeper or shallower."
    )
    remedy = "Level it in work, front to back and side to side."
    return (Finding("note", "frame-level", text, remedy, "common_practice"),)


def depth_steps_cm(machine: MachineSection) -> tuple[float, ...]:
    """Return every depth the control offers, shallowest first [cm]."""
    count = (
        math.floor((machine.depth_max_cm - machine.depth_min_cm) / machine.depth_step_cm + 1e-9) + 1
    )
    return tuple(
        machine.depth_min_cm + machine.depth_step_cm * step for step in range(max(count, 1))
    )


def pin_position(
    machine: MachineSection, depth_cm: float, zero_cm: float | None = None
) -> PinPosition:
    """Return the pin hole that gives a working depth.

    Parameters
    ----------
    machine
        The loosener; `depth_step_cm` is the change of depth from hole to hole.
    depth_cm
        Working depth [cm].
    zero_cm
        Depth at hole 1, measured on level ground [cm]; default `depth_min_cm`.
    """
    zero = machine.depth_min_cm if zero_cm is None else zero_cm
    steps = (depth_cm - zero) / machine.depth_step_cm
    fits = (
        machine.depth_control == "pins"
        and steps > -0.5
        and bool(np.isclose(steps, round(steps), atol=1e-6))
    )
    return PinPosition(depth_cm, inches(depth_cm), round(steps) + 1 if fits else None)


def pin_table(machine: MachineSection, zero_cm: float | None = None) -> tuple[PinPosition, ...]:
    """Return the pin position of every depth the machine offers; see `pin_position`."""
    return tuple(pin_position(machine, depth, zero_cm) for depth in depth_steps_cm(machine))


def trial_speeds() -> tuple[TrialSpeed, ...]:
    """Return the trial runs to make before the work and what to look for (common practice)."""
    return tuple(
        TrialSpeed(float(r["speed_km_h"]), r["look_for"], r["source"]) for r in rows("trial_speeds")
    )
