"""Pieces as chains of steps with costs: what the dynamic programme works on."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from zoning.contracts import constant
from zoning.depths.lanes import Chains
from zoning.depths.lay import Laid
from zoning.depths.places import Places
from zoning.model import Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def change_charge(settings: Settings) -> float:
    """Return what a change of depth is charged, in the unit of the cost of a piece [cm m2].

    It is the loss of working a length of pass one step of the machine too deep: length x working
    width x depth step x (1 - assurance). The length is `change_equivalent_hydraulic_m`, or
    `change_equivalent_pins_m` where somebody has to get down and move pins.
    """
    return _charge(settings, "change")


def setting_charge(settings: Settings) -> float:
    """Return what a depth that is set for next to no ground is charged, likewise [cm m2].

    The length is `setting_equivalent_pins_m`, or `setting_equivalent_hydraulic_m`.
    """
    return _charge(settings, "setting")


def patch_charge(settings: Settings) -> float:
    """Return what each pass of a patch that lies alone is charged: `patch_equivalent_m`."""
    return constant("depth_rules", "patch_equivalent_m") * _too_deep_cm_m(settings)


def _charge(settings: Settings, what: str) -> float:
    how = settings.machine.depth_control
    return constant("depth_rules", f"{what}_equivalent_{how}_m") * _too_deep_cm_m(settings)


def _too_deep_cm_m(settings: Settings) -> float:
    """Return the loss of a metre of pass worked one step of the machine too deep [cm m]."""
    machine = settings.machine
    return machine.width_m * machine.depth_step_cm * (1.0 - settings.depth.assurance)


def piece_cost(places: Places, loss_cm: Floats, pieces: int) -> Floats:
    """Return the cost of each option on each piece, shape ``(pieces, options)`` [cm m2].

    The cost is the sum over the places of the piece of loss times area.

    Parameters
    ----------
    places
        Ground of each part in each piece.
    loss_cm
        Loss of each option at each place, shape ``(places, options)`` [cm].
    pieces
        Number of pieces.
    """
    weights = loss_cm * places.area_m2[:, None]
    columns = [np.bincount(places.piece, column, minlength=pieces) for column in weights.T]
    return np.column_stack(columns)


def chains_of(laid: Laid) -> tuple[Ints, Chains]:
    """Return the pieces in driving order and the chains they form.

    A pass is one chain unless it is broken for more than `gap_in_pass_m`. A round whose middle line
    ends where it began, and which is not broken, is a loop.

    Returns
    -------
    order : NDArray
        Piece of each row of the chains, shape ``(pieces,)``.
    chains : Chains
        The chains.
    """
    table = laid.pieces
    order = np.lexsort([table["step"].to_numpy(), table["pass_id"].to_numpy()])
    number = table["pass_id"].to_numpy(dtype=np.int64)[order]
    begin = table["from_m"].to_numpy(dtype=np.float64)[order]
    end = table["to_m"].to_numpy(dtype=np.float64)[order]
    broken = begin[1:] - end[:-1] > constant("depth_rules", "gap_in_pass_m")
    starts = np.flatnonzero(np.r_[True, (number[1:] != number[:-1]) | broken])
    first = np.append(starts, len(order)).astype(np.int64)
    rings = laid.lines["pass_id"].to_numpy()[shapely.is_closed(laid.lines.geometry.to_numpy())]
    own = np.bincount(number[starts], minlength=int(number.max(initial=0)) + 1)
    closed = np.isin(number[starts], rings) & (own[number[starts]] == 1) & (np.diff(first) > 1)
    return order, Chains(first, np.maximum(end - begin, 0.0), closed)
