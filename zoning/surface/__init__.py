"""The pan surface: covariance, fit, prediction, validation; numbers in, numbers out."""

from typing import TYPE_CHECKING

from zoning.lazy import loader
from zoning.surface.covariance import Covariance
from zoning.surface.evidence import FieldEvidence, field_evidence
from zoning.surface.pan import PanModel
from zoning.surface.shared_prior import SharedPrior
from zoning.surface.sharing import shared_prior

if TYPE_CHECKING:
    from zoning.surface.regressor import KrigingRegressor

__all__ = [
    "Covariance",
    "FieldEvidence",
    "KrigingRegressor",
    "PanModel",
    "SharedPrior",
    "field_evidence",
    "shared_prior",
]

# A plan needs no estimator, and scikit-learn takes its time to load.
__getattr__ = loader(__name__, {"KrigingRegressor": "regressor"})
