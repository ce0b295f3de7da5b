"""A small field being reviewed."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask.testing import FlaskClient
from review.small_desk import write_field, write_plan

from zoning.review import Desk, make_app, open_desk


@pytest.fixture(autouse=True)
def _last_day_of_2026(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the tests save is of the past, whatever the clock says."""
    monkeypatch.setattr("zoning.review.forms.today", lambda: "2026-12-31")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = write_field(tmp_path / "field")
    write_plan(folder / "plan")
    return folder


@pytest.fixture
def desk(folder: Path) -> Desk:
    return open_desk(folder)


@pytest.fixture
def client(desk: Desk) -> FlaskClient:
    return make_app(desk).test_client()
