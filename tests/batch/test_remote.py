"""Field folders behind an address: fsspec's own store in memory, and an object server if there."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import fsspec
import pytest

from zoning.batch import find_fields, jobs_for, plan_field
from zoning.errors import InputRefused

S3 = {"key": "testing", "secret": "testing"}


def fill(store: Any, root: str, farm: Path) -> None:
    for path in sorted(p for p in farm.rglob("*") if p.is_file() and "plan" not in p.parts):
        store.pipe_file(f"{root}/{path.relative_to(farm).as_posix()}", path.read_bytes())


@pytest.fixture
def memory(planned: Path) -> str:
    """Return the address of the two fields in fsspec's memory store."""
    root = f"/{uuid.uuid4().hex}"
    fill(fsspec.filesystem("memory"), root, planned / "farm")
    return f"memory:/{root}"


@pytest.fixture
def objects(planned: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """Return the address of the two fields on an object server on loopback."""
    pytest.importorskip("s3fs", reason="s3fs is not installed")
    server_of = pytest.importorskip("moto.server", reason="moto is not installed")
    server = server_of.ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    settings = {**S3, "endpoint_url": f"http://{host}:{port}"}
    monkeypatch.setitem(fsspec.config.conf, "s3", settings)
    store = fsspec.filesystem("s3")
    store.mkdir("county")
    fill(store, "county", planned / "farm")
    yield "s3://county"
    server.stop()


def files_of(address: str) -> dict[str, bytes]:
    store, root = fsspec.core.url_to_fs(f"{address}/plan")
    store.invalidate_cache()
    return {str(p).rsplit("/", 1)[1]: store.cat_file(p) for p in store.find(root)}


def test_fields_are_found_below_an_address(memory: str) -> None:
    ends = [f.rsplit("/", 1)[1] for f in find_fields([memory])]
    assert ends == ["one", "two"]
    assert len(find_fields([f"{memory}/t*"])) == 1


def check_plan_there(address: str, here: Path) -> None:
    job = jobs_for([address])[0]
    first = plan_field(job)
    assert (first.status, first.error) == ("planned", "")
    expected = {p.name: p.read_bytes() for p in (here / "plan").iterdir()}
    assert files_of(address) == expected
    second = plan_field(job)
    assert second.status == "kept"
    assert second.facts == first.facts


def test_the_plan_sent_back_has_the_bytes_of_one_made_here(memory: str, planned: Path) -> None:
    check_plan_there(f"{memory}/one", planned / "farm" / "one")


def test_an_object_server_is_as_good(objects: str, planned: Path) -> None:
    assert [f.rsplit("/", 1)[1] for f in find_fields([objects])] == ["one", "two"]
    check_plan_there(f"{objects}/one", planned / "farm" / "one")


def test_changed_inputs_and_unfinished_plans_are_planned_anew(memory: str) -> None:
    job = jobs_for([f"{memory}/two"])[0]
    assert plan_field(job).status == "planned"
    store, root = fsspec.core.url_to_fs(f"{memory}/two")
    store.rm_file(f"{root}/plan/plan.json")
    assert plan_field(job).status == "planned"
    store.pipe_file(f"{root}/pits.csv", store.cat_file(f"{root}/pits.csv") + b"\n")
    assert plan_field(job).status == "planned"
    assert plan_field(job).status == "kept"
    assert plan_field(replace(job, version="9.9")).status == "failed"


def test_a_letter_in_the_folder_of_the_plan_is_not_lost(memory: str) -> None:
    store, root = fsspec.core.url_to_fs(f"{memory}/two")
    store.pipe_file(f"{root}/plan/letter.txt", b"keep me")
    outcome = plan_field(jobs_for([f"{memory}/two"])[0])
    assert outcome.status == "failed"
    assert "letter.txt" in outcome.error
    assert files_of(f"{memory}/two") == {"letter.txt": b"keep me"}


def test_nothing_there_is_refused(memory: str) -> None:
    outcome = plan_field(jobs_for([f"{memory}/three"])[0])
    assert outcome.status == "refused"
    assert "field.toml" in outcome.error


def test_an_unknown_kind_of_address_is_refused_with_its_name() -> None:
    with pytest.raises(InputRefused, match="nosuch://"):
        find_fields(["nosuch://a/b"])
