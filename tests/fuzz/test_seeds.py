"""What the fuzzers kept is read again: each file once took a branch that none before had taken."""

from __future__ import annotations

import pytest
from fuzz.targets import KEPT, TARGETS, once, seeds


def test_seeds_of_the_readers_of_a_field_are_kept() -> None:
    kept = {path.stem for path in KEPT.glob("*.zip")}
    assert {"cone", "pits", "settings", "geojson"} <= kept <= set(TARGETS)


@pytest.mark.parametrize("name", sorted(TARGETS))
def test_only_refusals_leave_the_reader(name: str) -> None:
    held = seeds(name)
    for data in held:
        once(name, data)
    assert len(held) > (20 if (KEPT / f"{name}.zip").is_file() else 0)
