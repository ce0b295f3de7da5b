"""The pan surface: covariance, fit, prediction, validation; numbers in, numbers out."""

from zoning.surface.covariance import Covariance
from zoning.surface.pan import PanModel
from zoning.surface.regressor import KrigingRegressor

__all__ = ["Covariance", "KrigingRegressor", "PanModel"]
