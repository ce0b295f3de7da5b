"""What a field gives to the others of its farm, and what it takes from them."""

from __future__ import annotations

from zoning import surface
from zoning.model import FieldInputs, Notice
from zoning.workflow.division import divide
from zoning.workflow.interpret import interpret


def evidence_of(inputs: FieldInputs) -> surface.FieldEvidence | None:
    """Return what the stations of one field say of its farm; ``None`` if too few bases were read.

    Raises
    ------
    zoning.errors.PlanRefused
        If no station says anything about a pan.
    """
    stations = interpret(inputs, divide(inputs).parts).stations
    return surface.field_evidence(stations[stations["used"]])


def shared_notices(shared: surface.SharedPrior | None) -> tuple[Notice, ...]:
    """Return a note on what was taken from the other fields."""
    if shared is None:
        return ()
    return (Notice("note", "shared-prior", TAKEN.format(fields=shared.fields)),)


TAKEN = (
    "How the pan varies, and how much deeper it lies in each part, is partly taken from the "
    "readings of {fields} fields of the farm, this one among them. Where this field is unlike the "
    "others, its own stations must show it."
)
