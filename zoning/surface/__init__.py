"""The pan surface: covariance, fit, prediction, validation; numbers in, numbers out."""

from zoning.surface.covariance import Covariance
from zoning.surface.evidence import FieldEvidence, field_evidence
from zoning.surface.pan import PanModel
from zoning.surface.regressor import KrigingRegressor
from zoning.surface.shared_prior import SharedPrior
from zoning.surface.sharing import shared_prior

__all__ = [
    "Covariance",
    "FieldEvidence",
    "KrigingRegressor",
    "PanModel",
    "SharedPrior",
    "field_evidence",
    "shared_prior",
]
