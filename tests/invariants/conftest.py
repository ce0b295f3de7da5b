"""How many random fields: ``ZONING_FIELDS`` names dev (default), ci or nightly.

A long run may be cut: ``ZONING_FIELDS_SLICES=20`` takes a twentieth, and ``--hypothesis-seed``
says which.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

SLICES = int(os.environ.get("ZONING_FIELDS_SLICES", "1"))

for name, count in (("dev", 20), ("ci", 100), ("nightly", 2000)):
    settings.register_profile(
        f"fields-{name}",
        max_examples=-(-count // SLICES),
        deadline=None,
        derandomize=name != "nightly",
        database=None,
        suppress_health_check=list(HealthCheck),
    )
FIELDS = settings.get_profile(f"fields-{os.environ.get('ZONING_FIELDS', 'dev')}")
A_FIFTH = settings(FIELDS, max_examples=-(-FIELDS.max_examples // 5))
