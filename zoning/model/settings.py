"""The settings of one field, as ``field.toml`` spells them.

Stdlib dataclasses with the limits of each value in its annotation; `zoning.readings` checks a file
against them and `shared/schemas/field.schema.json` is made from them, so each default and each
range stands here and nowhere else.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from dataclasses import field as given
from typing import Annotated, ClassVar, Literal

from annotated_types import Ge, Interval, MinLen

_STEP_SLACK = 1e-6  # share of a step: 15 + 12 * 2.5 must not miss 45 by rounding
_STRICT = {"extra": "forbid", "allow_inf_nan": False}

Text = Annotated[str, MinLen(1)]
Percent = Annotated[float, Interval(gt=0, lt=1)]
Heading = Annotated[float, Interval(ge=-360, le=360)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSection:
    """``[field]``: which field, when, and where its outline is."""

    __pydantic_config__: ClassVar[object] = _STRICT
    name: Text
    boundary: Text
    season: Annotated[int, Interval(ge=1900, le=2200)] | None = None
    boundary_layer: Text | None = None
    backdrop: Text | None = None
    working_crs: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsSection:
    """``[readings]``: the logs of the cone penetrometer and the pit notes."""

    __pydantic_config__: ClassVar[object] = _STRICT
    cone: Text | list[Text] | None = None
    pits: Text | list[Text] | None = None
    cone_after: Text | list[Text] | None = None
    trials: Text | None = None
    crs: Text | None = None
    limit_mpa: Annotated[float, Interval(ge=0.3, le=6)] = 2.0
    cone_unit: Literal["MPa", "kPa", "psi"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelingsSection:
    """``[areas.wheelings]``: lines, or a heading with spacing and offset."""

    __pydantic_config__: ClassVar[object] = _STRICT
    width_m: Annotated[float, Interval(gt=0, le=20)] = 3.0
    lines: Text | None = None
    heading_deg: Heading | None = None
    spacing_m: Annotated[float, Interval(gt=0, le=200)] | None = None
    offset_m: Annotated[float, Interval(ge=-1000, le=1000)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AreasSection:
    """``[areas]``: the parts of the field whose pan may lie at another depth."""

    __pydantic_config__: ClassVar[object] = _STRICT
    headland_width_m: Annotated[float, Interval(ge=0, le=200)] = 0.0
    headland_round_obstacles: bool = False
    gateways: Text | None = None
    gateway_radius_m: Annotated[float, Interval(gt=0, le=200)] = 20.0
    named: Text | None = None
    wheelings: WheelingsSection | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardsSection:
    """``[hazards]``: drains, buried services and obstacles, and what was done to find them."""

    __pydantic_config__: ClassVar[object] = _STRICT
    file: Text | None = None
    services: Literal["not_checked", "records", "located"] = "not_checked"
    reference: str = ""
    notice_depth_cm: Annotated[float, Interval(ge=0, le=200)] = 30.0

    @property
    def services_code(self) -> str:
        """Code of the caution on what was done about services; a locate has a reference."""
        if self.services == "located" and not self.reference.strip():
            return "services-unreferenced"
        return f"services-{self.services}".replace("_", "-")

    @property
    def located(self) -> bool:
        """Whether services were located, under a reference that can be asked for."""
        return self.services_code == "services-located"


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineSection:
    """``[machine]``: the loosener."""

    __pydantic_config__: ClassVar[object] = _STRICT
    name: Text = "leg loosener"
    legs: Annotated[int, Interval(ge=1, le=60)] = 7
    leg_spacing_cm: Annotated[float, Interval(ge=10, le=300)] = 43.0
    foot_width_cm: Annotated[float, Interval(gt=0, le=60)] = 6.0
    point: Literal["plain", "winged"] = "plain"
    wing_width_cm: Annotated[float, Interval(ge=0, le=120)] = 0.0
    leading_tines: bool = False
    depth_min_cm: Annotated[float, Interval(gt=0, le=120)] = 15.0
    depth_max_cm: Annotated[float, Interval(gt=0, le=120)] = 45.0
    depth_step_cm: Annotated[float, Interval(gt=0, le=30)] = 2.5
    depth_control: Literal["pins", "hydraulic"] = "pins"
    frame: Literal["straight", "two_row", "v"] = "two_row"
    row_gap_cm: Annotated[float, Interval(ge=0, le=500)] = 90.0
    speed_km_h: Annotated[float, Interval(gt=0, le=20)] = 8.0
    travel_heading_deg: Heading | None = None

    @property
    def wings_unknown(self) -> bool:
        """Whether the points have wings of which nobody gave the width: it is reckoned as none."""
        return self.point == "winged" and self.wing_width_cm == 0

    @property
    def draft_implement(self) -> str:
        """Its row in the table of drafts, narrow for plain points."""
        return "subsoiler_winged" if self.point == "winged" else "subsoiler_narrow"

    @property
    def width_m(self) -> float:
        """Working width [m]: number of legs times their spacing."""
        return self.legs * self.leg_spacing_cm / 100.0

    @property
    def settings_cm(self) -> tuple[float, ...]:
        """Depths it can be set to, rising: whole steps from the shallowest, none past the deepest.

        Pin holes are counted along them, 1 for the shallowest.
        """
        steps = (self.depth_max_cm - self.depth_min_cm) / self.depth_step_cm
        count = math.floor(steps + _STEP_SLACK) + 1
        return tuple(round(self.depth_min_cm + self.depth_step_cm * i, 6) for i in range(count))


@dataclass(frozen=True, slots=True, kw_only=True)
class TractorSection:
    """``[tractor]``: what pulls it."""

    __pydantic_config__: ClassVar[object] = _STRICT
    pto_power_kw: Annotated[float, Interval(gt=0, le=1000)] | None = None
    drive: Literal["2wd", "mfwd", "4wd", "track"] = "4wd"
    ground: Literal["firm", "tilled", "soft"] = "firm"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilSection:
    """``[soil]``: texture group of the draft equation."""

    __pydantic_config__: ClassVar[object] = _STRICT
    texture: Literal["fine", "medium", "coarse"] = "medium"


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthSection:
    """``[depth]``: how the working depth is chosen."""

    __pydantic_config__: ClassVar[object] = _STRICT
    clearance_cm: Annotated[float, Interval(ge=0, le=20)] = 3.0
    assurance: Percent = 0.8
    max_depths: Annotated[int, Interval(ge=1, le=12)] = 4
    min_run_m: Annotated[float, Interval(ge=0, le=1000)] = 25.0
    lift_out: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class CostsSection:
    """``[costs]``: prices, where the user gives them."""

    __pydantic_config__: ClassVar[object] = _STRICT
    currency: Text | None = None
    fuel_per_l: Annotated[float, Ge(0)] | None = None
    machine_per_h: Annotated[float, Ge(0)] | None = None
    labour_per_h: Annotated[float, Ge(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """All of ``field.toml``."""

    __pydantic_config__: ClassVar[object] = _STRICT
    field: FieldSection
    readings: ReadingsSection = given(default_factory=ReadingsSection)
    areas: AreasSection = given(default_factory=AreasSection)
    hazards: HazardsSection = given(default_factory=HazardsSection)
    machine: MachineSection = given(default_factory=MachineSection)
    tractor: TractorSection = given(default_factory=TractorSection)
    soil: SoilSection = given(default_factory=SoilSection)
    depth: DepthSection = given(default_factory=DepthSection)
    costs: CostsSection = given(default_factory=CostsSection)


__all__ = [
    "AreasSection",
    "CostsSection",
    "DepthSection",
    "FieldSection",
    "HazardsSection",
    "MachineSection",
    "ReadingsSection",
    "Settings",
    "SoilSection",
    "TractorSection",
    "WheelingsSection",
]
