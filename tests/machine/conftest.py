from __future__ import annotations

import pytest

from zoning.machine import Outfit
from zoning.model.settings import (
    CostsSection,
    FieldSection,
    MachineSection,
    Settings,
    SoilSection,
    TractorSection,
)


@pytest.fixture
def planner() -> Outfit:
    """Three narrow legs 0.75 m apart, medium soil, 6 km/h, 100 kW PTO, 2wd on firm soil."""
    return Outfit(
        MachineSection(legs=3, leg_spacing_cm=75, speed_km_h=6, depth_max_cm=60),
        TractorSection(pto_power_kw=100, drive="2wd", ground="firm"),
        SoilSection(texture="medium"),
        CostsSection(),
    )


@pytest.fixture
def settings() -> Settings:
    return Settings(field=FieldSection(name="Field", boundary="b.geojson"))
