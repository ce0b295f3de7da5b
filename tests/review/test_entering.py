"""The access code on a network."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient
from review.small_desk import SAME_ORIGIN, form, post

from zoning.review import Desk, make_app


@pytest.fixture
def outside(desk: Desk) -> FlaskClient:
    desk.code = "ABCD2345"
    return make_app(desk).test_client()


@pytest.mark.parametrize(
    "path", ["/", "/new", "/export/pits.csv", "/export/records.gpkg", "/seasons"]
)
def test_nothing_is_shown_before_the_code(outside: FlaskClient, path: str) -> None:
    answer = outside.get(path)
    assert (answer.status_code, answer.location) == (303, "/enter")


def test_nothing_is_saved_before_the_code(desk: Desk, outside: FlaskClient) -> None:
    assert post(outside, "/save/pit", form(desk)).location == "/enter"


def test_the_right_code_opens_in_any_case(outside: FlaskClient) -> None:
    answer = post(outside, "/enter", {"code": " abcd2345 "})
    assert answer.status_code == 303
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert outside.get("/").status_code == 200


def test_wrong_codes_are_refused_and_then_everyone_waits(outside: FlaskClient) -> None:
    answers = [post(outside, "/enter", {"code": f"{i}"}).status_code for i in range(12)]
    assert answers == [403] * 10 + [429] * 2
    assert post(outside, "/enter", {"code": "ABCD2345"}).status_code == 429
    assert outside.get("/").status_code == 303


def test_a_blank_code_opens_nothing(desk: Desk, client: FlaskClient) -> None:
    assert client.post("/enter", data={"code": ""}, headers=SAME_ORIGIN).status_code == 403


def test_a_cookie_of_an_earlier_start_opens_nothing(outside: FlaskClient) -> None:
    outside.set_cookie("zoning_entry", "in-of-yesterday")
    assert outside.get("/").status_code == 303
