"""The things that travel between rooms: frozen dataclasses and nothing else."""

from zoning.model.inputs import FieldInputs, InputFile
from zoning.model.notices import Notice
from zoning.model.plan import Losses, Plan
from zoning.model.settings import Settings
from zoning.model.surface import PanSurface
from zoning.model.survey import Survey

__all__ = [
    "FieldInputs",
    "InputFile",
    "Losses",
    "Notice",
    "PanSurface",
    "Plan",
    "Settings",
    "Survey",
]
