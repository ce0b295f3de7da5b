"""The table of drafts, as machine and sheet read it."""

from __future__ import annotations

from dataclasses import dataclass

from zoning.contracts.tables import rows


@dataclass(frozen=True, slots=True)
class DraftRow:
    """Coefficients of one implement in the draft equation.

    Parameters
    ----------
    implement
        Name of the row in ``shared/tables/draft_coefficients.csv``.
    a, b, c
        Constant, per km/h and per (km/h) squared [N per tool and cm of depth].
    f_fine, f_medium, f_coarse
        Factor of the soil texture.
    range_share
        Spread of real machines about the value, as a share of it.
    source, status
        Where the row comes from.
    """

    implement: str
    a: float
    b: float
    c: float
    f_fine: float
    f_medium: float
    f_coarse: float
    range_share: float
    source: str
    status: str

    def unit_n(self, speed_km_h: float) -> float:
        """Return the draft at a speed, ``A + B S + C S^2`` [N per tool and cm of depth]."""
        return self.a + self.b * speed_km_h + self.c * speed_km_h**2

    def factor(self, texture: str) -> float:
        """Return the factor of a soil texture: ``fine``, ``medium`` or ``coarse``."""
        factors = {"fine": self.f_fine, "medium": self.f_medium, "coarse": self.f_coarse}
        return factors[texture]


def draft_row(implement: str) -> DraftRow:
    """Return the coefficients of an implement.

    Raises
    ------
    KeyError
        If the table has no such implement.
    """
    for row in rows("draft_coefficients"):
        if row["implement"] == implement:
            spread = float(row["range_percent"]) / 100.0
            a, b, c = float(row["a"]), float(row["b"]), float(row["c"])
            factors = float(row["f_fine"]), float(row["f_medium"]), float(row["f_coarse"])
            return DraftRow(implement, a, b, c, *factors, spread, row["source"], row["status"])
    raise KeyError(f"draft_coefficients.csv has no row named {implement}")
