"""Who may ask: foreign hosts, foreign pages, missing tokens, and what every answer forbids.

The cases follow OWASP ASVS 5.0 (3.4.3, 3.5.1 to 3.5.3, 5.3.2) and the OWASP cheat sheet on
cross-site request forgery: Fetch metadata first, Origin as the fallback.
"""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient
from review.small_desk import SAME_ORIGIN, form, pits, post

from zoning.review import Desk, make_app

PAGES = ("/", "/new", "/seasons", "/export", "/zone/1", "/enter", "/nothing", "/photo/x")


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1.evil.example", "localhost.", "0.0.0.0", "127.1", "169.254.1.1", ""],  # noqa: S104
)
def test_a_foreign_host_is_refused(client: FlaskClient, host: str) -> None:
    answer = client.get("/", headers={"Host": host})
    assert answer.status_code == 400
    assert "P1" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8765", "localhost:8765"])
def test_our_own_names_are_answered(client: FlaskClient, host: str) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


def test_a_page_on_an_address_of_version_six_answers_to_it_alone(desk: Desk) -> None:
    client = make_app(desk, ("127.0.0.1", "localhost", "[::1]")).test_client()
    assert client.get("/", headers={"Host": "[::1]:8765"}).status_code == 200
    assert client.get("/", headers={"Host": "[fe80::1]:8765"}).status_code == 400
    assert client.get("/", headers={"Host": "evil.example"}).status_code == 400


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site", "Origin": "http://localhost"},
        {"Sec-Fetch-Site": "same-site", "Origin": "http://localhost"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": "http://evil.example"},
        {"Origin": "http://localhost:9999"},
        {"Origin": "https://localhost"},
        {"Origin": "null"},
        {},
    ],
    ids=str,
)
def test_a_form_of_another_page_is_refused(
    desk: Desk, client: FlaskClient, headers: dict[str, str]
) -> None:
    before = len(pits(desk))
    for path in ("/save/pit", "/save/review", "/save/photo"):
        assert post(client, path, form(desk), headers=headers).status_code == 403
    assert len(pits(desk)) == before


@pytest.mark.parametrize("headers", [SAME_ORIGIN, {"Origin": "http://localhost"}], ids=str)
def test_our_own_form_is_taken(desk: Desk, client: FlaskClient, headers: dict[str, str]) -> None:
    assert post(client, "/save/pit", form(desk), headers=headers).status_code == 303


@pytest.mark.parametrize("token", ["", "x", "\u00e9"])
def test_without_the_token_nothing_is_saved(desk: Desk, client: FlaskClient, token: str) -> None:
    before = len(pits(desk))
    assert post(client, "/save/pit", form(desk, token=token)).status_code == 403
    post(client, "/save/review", form(desk, token=token))
    post(client, "/save/photo", form(desk, token=token))
    assert len(pits(desk)) == before


@pytest.mark.parametrize("path", PAGES)
def test_every_answer_allows_nothing_but_our_own(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "Server" not in answer.headers
    assert " style=" not in answer.text
    assert " onclick" not in answer.text


@pytest.mark.parametrize("path", ["/save/pit", "/save/review", "/save/photo"])
def test_looking_never_saves(desk: Desk, client: FlaskClient, path: str) -> None:
    assert client.get(path, query_string=form(desk)).status_code == 405
    assert client.put(path, data=form(desk)).status_code == 405


@pytest.mark.parametrize(
    "path",
    ["/photo/../records.gpkg", "/photo/..%2f..%2fetc%2fpasswd", "/photo/" + "0" * 64,
     "/map/../field.toml", "/map/leaflet.js.map", "/own/../app.py", "/own/%2e%2e/app.py",
     "/pit/%00", "/zone/-1", "/zone/99999999999999999999"],
)  # fmt: skip
def test_no_path_leads_out(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code in (400, 404)
    assert "Traceback" not in answer.text


def test_listening_to_all_addresses_only_numbers_are_answered(desk: Desk) -> None:
    client = make_app(desk, ("*",)).test_client()
    assert client.get("/", headers={"Host": "192.168.1.20:8765"}).status_code == 200
    assert client.get("/", headers={"Host": "rebound.example"}).status_code == 400
