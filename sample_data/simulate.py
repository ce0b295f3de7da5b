"""Fields with a known truth: an invented outline, parts, a pan, and an adviser's readings of it.

>>> from simulate import simulate
>>> sim = simulate(7)
>>> sim.true_base_cm(xy), sim.true_pan(xy), sim.part(xy)   # doctest: +SKIP
>>> sim.write(folder)                                      # doctest: +SKIP

A plan made from the readings alone can then be judged against what truly lies everywhere. Every
parameter is drawn from a range that `field_scenario` states. The scenario is this project's own:
what a method saves depends on the fields it is tried on, so a ratio of losses measured here is a
fact about these fields. It cannot be set beside a figure from other simulated fields, an earlier
prototype's among them, whose parameters are not known.

What is simplified: the effect of a part is constant along it; the depth of the pan is a Gaussian
field; a wheeling is one band rather than two wheel tracks; the mapped headland is exact (the
mapped wheelings are not). Shape, truth, cone and pits have random streams of their own, so the same
seed with other readings gives the same ground.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from field_folder import write_folder
from field_probing import choose_places, dig, pit_counts, probe, station_counts
from field_scenario import Scenario, draw, override
from field_shapes import Outline, Shapes, draw_outline, draw_parts
from field_truth import Numbers, Places, Truth, draw_truth, grid_m
from numpy.typing import NDArray

# Flat farmland a little off the central meridian of UTM zone 31 north; the outlines are invented.
CRS = "EPSG:32631"
CENTRE_M = (352_000.0, 5_843_000.0)


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """One simulated field: its truth and its readings, places in `crs`."""

    seed: int
    crs: str
    truth: Truth
    cone: pd.DataFrame
    insertions: pd.DataFrame
    pits: pd.DataFrame

    @property
    def scenario(self) -> Scenario:
        """The parameters that were drawn."""
        return self.truth.scenario

    @property
    def shapes(self) -> Shapes:
        """The ground as it is."""
        return self.truth.shapes

    @property
    def boundary(self) -> Outline:
        """The outline [m]."""
        return self.truth.shapes.boundary

    def true_base_cm(self, xy_m: Places) -> Numbers:
        """Return the base of the pan; only meaningful where `true_pan` [cm]."""
        return self.truth.base_cm(xy_m)

    def true_pan(self, xy_m: Places) -> NDArray[np.bool_]:
        """Return whether there is a pan."""
        return self.truth.pan(xy_m)

    def part(self, xy_m: Places) -> NDArray[np.str_]:
        """Return the part of the field."""
        return self.truth.part(xy_m)

    def need_cm(self, xy_m: Places, clearance_cm: float) -> Numbers:
        """Return the working depth needed: base and clearance, or 0 where there is no pan [cm]."""
        return np.where(self.true_pan(xy_m), self.true_base_cm(xy_m) + clearance_cm, 0.0)

    def grid_m(self, step_m: float) -> Places:
        """Return the places of a square grid inside the field [m]."""
        return grid_m(self.shapes, step_m)

    def write(self, folder: Path, *, name: str | None = None) -> Path:
        """Write the field folder of the file contract and return it."""
        return write_folder(
            self.truth, self.cone, self.pits, self.crs, folder, name or f"Simulated {self.seed}"
        )


def simulate(
    seed: int,
    *,
    area_ha: float | None = None,
    stations: int | None = None,
    pits: int | None = None,
    named: bool = False,
    scenario: Scenario | None = None,
    outline: Outline | None = None,
    crs: str = CRS,
) -> Simulated:
    """Return a simulated field.

    Parameters
    ----------
    seed
        The same seed gives the same field.
    area_ha, stations, pits
        Taken instead of what would be drawn.
    named
        Whether there is a named area, an old clamp pad.
    scenario
        Every parameter, instead of drawing them.
    outline, crs
        A given outline [m, `crs`] instead of an invented one; too small a part gets no station.
    """
    streams = [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(5)]
    drawn = scenario if scenario is not None else draw(streams[0])
    chosen = override(drawn, area_ha=area_ha, stations=stations, pits=pits)
    boundary = outline if outline is not None else draw_outline(chosen, streams[1], CENTRE_M)
    shapes = draw_parts(chosen, streams[1], boundary, named=named)
    truth = draw_truth(chosen, shapes, streams[2])
    rng = streams[3]
    cone, insertions = probe(
        truth, choose_places(truth, rng, station_counts(chosen, named=named)), rng
    )
    dug = choose_places(truth, streams[4], pit_counts(chosen))
    return Simulated(seed, crs, truth, cone, insertions, dig(truth, dug, streams[4]))
