"""Who may ask, and what a page may do.

A request has to name a host that is ours (a foreign name pointed at this computer is refused), a
form has to come from one of our own pages (``Sec-Fetch-Site``, else ``Origin``) and to hold the
token of this start, and on a network the access code has to have been given.
"""

from __future__ import annotations

import ipaddress
import secrets
from urllib.parse import urlsplit

from flask import Flask, Response, abort, g, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from zoning.review.desk import Desk

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
COOKIE = "zoning_entry"
_OPEN = ("enter", "entered", "static", "library")


def install_guard(app: Flask, desk: Desk, hosts: tuple[str, ...]) -> None:
    """Put the guard before every page of `app`, and its headers on every answer."""

    @app.before_request
    def check() -> AnyResponse | None:
        _refuse_foreign_name(hosts)
        if request.method not in ("GET", "HEAD", "POST"):
            abort(405)
        if request.method == "POST" and not from_own_page():
            abort(403, "This form did not come from the review page. Open the page and try again.")
        if desk.code and request.endpoint not in _OPEN and not has_entered(desk):
            return redirect(url_for("enter"), 303)
        # A form that was opened before the program was started anew is shown again, not lost.
        g.fresh = request.method != "POST" or _token_fits(desk)
        return None

    @app.after_request
    def seal(answer: Response) -> Response:
        answer.headers["Content-Security-Policy"] = POLICY
        answer.headers["X-Content-Type-Options"] = "nosniff"
        answer.headers["Referrer-Policy"] = "same-origin"
        answer.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
        answer.headers["Permissions-Policy"] = "geolocation=(self), camera=(), microphone=()"
        answer.headers.setdefault("Cache-Control", "private, no-cache")
        return answer


def from_own_page() -> bool:
    """Whether a form was sent by one of our own pages."""
    site = request.headers.get("Sec-Fetch-Site")
    if site is not None and site != "same-origin":
        return False
    origin = request.headers.get("Origin")
    if origin is None:
        return site == "same-origin"
    found = urlsplit(origin)
    return (found.scheme, found.netloc) == (request.scheme, request.host)


def has_entered(desk: Desk) -> bool:
    """Whether the access code was given from this browser."""
    return secrets.compare_digest(
        request.cookies.get(COOKIE, "").encode(), f"in-{desk.token}".encode()
    )


def _token_fits(desk: Desk) -> bool:
    return secrets.compare_digest(request.form.get("token", "").encode(), desk.token.encode())


def _refuse_foreign_name(hosts: tuple[str, ...]) -> None:
    """Refuse a name that is not ours; ``*`` takes numeric addresses, which cannot be rebound."""
    host = urlsplit(f"//{request.host}").hostname or ""
    if host in {name.strip("[]") for name in hosts}:
        return
    try:
        ipaddress.ip_address(host)
    except ValueError:
        abort(400, "Ask for this page by its numeric address.")
    if "*" not in hosts:
        abort(400, "This page is not asked for by this address.")
