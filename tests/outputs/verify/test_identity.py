"""The number of the plan in every file, and what it is made of."""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import pytest
from outputs.conftest import with_identity

from zoning.model import Plan
from zoning.outputs import write_plan
from zoning.outputs.verify.folder import read_back
from zoning.outputs.verify.identity import NUMBERS, fingerprint_faults, number_faults, store_faults
from zoning.outputs.write import KNOWN


@pytest.fixture(scope="module")
def other(plan: Plan, changed_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of another plan."""
    folder = tmp_path_factory.mktemp("other") / "plan"
    write_plan(changed_plan, folder)
    return folder


@pytest.fixture(scope="module")
def changed_plan(plan: Plan) -> Plan:
    field = dataclasses.replace(plan.settings.field, name="Heron Piece")
    return with_identity(
        dataclasses.replace(plan, settings=dataclasses.replace(plan.settings, field=field))
    )


def test_every_file_that_can_carries_the_number(written: Path, plan: Plan) -> None:
    read, _ = read_back(written)
    assert {number(read) for number in NUMBERS.values()} == {plan.plan_id}
    plain_tables = {name for name in KNOWN if name.endswith(".csv")}
    assert set(NUMBERS) == KNOWN - plain_tables - {"plan.json"}


@pytest.mark.parametrize("name", sorted(NUMBERS))
def test_a_file_of_another_plan_is_named(
    written: Path, other: Path, tmp_path: Path, name: str
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "copy"))
    shutil.copyfile(other / name, folder / name)
    read, _ = read_back(folder)
    assert [each.file for each in number_faults(name, read)] == [name]


def test_the_number_follows_from_the_files_of_the_plan(written: Path) -> None:
    read, faults = read_back(written)
    assert (*fingerprint_faults(read), *store_faults(read), *faults) == ()


def test_settings_that_were_edited_are_told(written: Path) -> None:
    read, _ = read_back(written)
    document = dict(read.document)
    document["settings"] = document["settings"] | {"soil": {"texture": "coarse"}}
    edited = dataclasses.replace(read, document=document)
    assert ["settings" in each.what for each in fingerprint_faults(edited)] == [True]
