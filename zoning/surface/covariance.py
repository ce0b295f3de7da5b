"""Covariance of the residual of the pan with distance.

Every model is ``C(h) = partial_sill * rho(h)`` for ``h > 0`` and ``nugget + partial_sill`` at
``h = 0``. With ``a = range_m``:

===========  ==========================================  =================
kind         ``rho(h)``                                  5 % (practical) at
===========  ==========================================  =================
exponential  ``exp(-h/a)``                               ``3.00 a``
spherical    ``1 - 1.5 h/a + 0.5 (h/a)**3``, 0 beyond a  ``a``
matern32     ``(1 + sqrt(3) h/a) exp(-sqrt(3) h/a)``     ``2.74 a``
matern52     ``(1 + u + u**2/3) exp(-u)``, u=sqrt(5) h/a  ``2.65 a``
gaussian     ``exp(-(h/a)**2)``                          ``1.73 a``
===========  ==========================================  =================

Source: Chilès J.-P., Delfiner P., Geostatistics, 2nd edition, 2012, section 2.5 (from memory). The
spherical model is valid in one to three dimensions, the others in any.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Kind = Literal["exponential", "spherical", "matern32", "matern52", "gaussian"]
KINDS: tuple[str, ...] = get_args(Kind)

_ROOT3 = math.sqrt(3.0)
_ROOT5 = math.sqrt(5.0)
_PRACTICAL = {
    "exponential": 3.0,
    "spherical": 1.0,
    "matern32": 2.739,
    "matern52": 2.648,
    "gaussian": 1.731,
}


@dataclass(frozen=True, slots=True)
class Covariance:
    """Nugget, partial sill and range of one covariance model.

    Parameters
    ----------
    kind
        One of ``exponential, spherical, matern32, gaussian``.
    nugget, partial_sill
        Variances [square of the unit of the readings], not negative.
    range_m
        Distance parameter of the table above [m], along the heading.
    across_ratio
        Range along `heading_deg` divided by the range across it; 1 is isotropic.
    heading_deg
        Direction of the longer range, clockwise from north [degrees].
    """

    kind: Kind
    nugget: float
    partial_sill: float
    range_m: float
    across_ratio: float = 1.0
    heading_deg: float = 0.0

    @property
    def sill(self) -> float:
        """Nugget plus partial sill."""
        return self.nugget + self.partial_sill

    @property
    def practical_range_m(self) -> float:
        """Distance at which the correlation has fallen to 5 % (0 for the spherical) [m]."""
        return self.range_m * practical_factor(self.kind)

    def with_values(self, nugget: float, partial_sill: float, range_m: float) -> Covariance:
        """Return the same model with other values."""
        return replace(self, nugget=nugget, partial_sill=partial_sill, range_m=range_m)

    def isotropic(self, xy_m: Array) -> Array:
        """Return `xy_m` moved to axes in which distance alone matters, shape ``(n, 2)`` [m]."""
        if self.across_ratio == 1.0:
            return xy_m
        angle = math.radians(self.heading_deg)
        along = np.array([math.sin(angle), math.cos(angle)])
        across = np.array([math.cos(angle), -math.sin(angle)])
        return np.column_stack([xy_m @ along, (xy_m @ across) * self.across_ratio])

    def correlation(self, a_m: Array, b_m: Array) -> Array:
        """Return ``rho`` between the places `a_m` and `b_m`, shape ``(len(a_m), len(b_m))``."""
        distance = distances(self.isotropic(a_m), self.isotropic(b_m))
        return correlation_in_place(self.kind, distance, self.range_m)


def distances(a_m: Array, b_m: Array) -> Array:
    """Return the distances between `a_m` and `b_m`, shape ``(len(a_m), len(b_m))`` [m].

    Squares and one root of all are several times faster than root by root.
    """
    square = cdist(a_m, b_m, "sqeuclidean")
    return np.asarray(np.sqrt(square, out=square), dtype=np.float64)


def practical_factor(kind: Kind) -> float:
    """Return the practical range of `kind` as a multiple of its distance parameter."""
    return _PRACTICAL[kind]


def correlation_in_place(kind: Kind, distance_m: Array, range_m: float) -> Array:
    """Return ``rho`` of the distances [m]; the array given is overwritten."""
    h = distance_m
    if kind == "exponential":
        h *= -1.0 / range_m
        return np.exp(h, out=h)
    if kind == "gaussian":
        h /= range_m
        np.multiply(h, h, out=h)
        np.negative(h, out=h)
        return np.exp(h, out=h)
    if kind == "matern32":
        h *= _ROOT3 / range_m
        decay = np.exp(-h)
        h += 1.0
        h *= decay
        return h
    if kind == "matern52":
        h *= _ROOT5 / range_m
        decay = np.exp(-h)
        decay *= 1.0 + h + h * h / 3.0
        return decay
    h /= range_m
    np.minimum(h, 1.0, out=h)
    cube = h * h
    cube -= 3.0
    h *= cube
    h *= 0.5
    h += 1.0
    return h


def correlation_and_slope(kind: Kind, distance_m: Array, range_m: float) -> tuple[Array, Array]:
    """Return ``rho`` and its derivative by the logarithm of the range."""
    u = distance_m / range_m
    if kind == "exponential":
        rho = np.exp(-u)
        return rho, u * rho
    if kind == "gaussian":
        rho = np.exp(-u * u)
        return rho, 2.0 * u * u * rho
    if kind == "matern32":
        decay = np.exp(-_ROOT3 * u)
        return (1.0 + _ROOT3 * u) * decay, 3.0 * u * u * decay
    if kind == "matern52":
        u = _ROOT5 * u
        decay = np.exp(-u)
        return (1.0 + u + u * u / 3.0) * decay, u * u * (1.0 + u) / 3.0 * decay
    u = np.minimum(u, 1.0)
    return 1.0 - 1.5 * u + 0.5 * u**3, 1.5 * (u - u**3)
